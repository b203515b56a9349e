"""Counting by address, and by names that nobody has. Bounded, in memory; times are arguments. Pure, for one thread."""

import ipaddress
from collections.abc import Callable

from daemon.access.waiting import Tries

FREE_TRIES = 10
"""More than one account's: several people may sign in from one address, and each mistypes now and then."""
FIRST_WAIT_MS = 2_000
LONGEST_WAIT_MS = 300_000
"""Shorter than an account's, since behind one proxy or router all have one address. Project choices, all of them."""
FORGOTTEN_AFTER_MS = 3_600_000
MOST_KEPT = 1_024
_MOST_DOUBLINGS = 8
_IPV6_SITE_BITS = 64


def grouped(address: str) -> str:
    """Give one name for all addresses of an IPv6 site, which has more of them than can be counted."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return ""
    mapped = getattr(found, "ipv4_mapped", None)
    if mapped is not None:
        return str(mapped)
    if found.version == 4:  # noqa: PLR2004 - of IP
        return str(found)
    return str(ipaddress.ip_network((found, _IPV6_SITE_BITS), strict=False))


def one_more_of_address(tries: Tries, now_ms: int) -> Tries:
    """Give the tries after another failure from an address."""
    failures = tries.failures + 1
    over = failures - FREE_TRIES
    wait_ms = min(FIRST_WAIT_MS << min(over, _MOST_DOUBLINGS), LONGEST_WAIT_MS) if over >= 0 else 0
    return Tries(failures, now_ms, wait_ms)


class Counts:
    """Tries under names. The oldest is forgotten where there are too many.

    `after` gives the tries after one more; `forgotten_after_ms`: how long after its wait each is forgotten, None never.
    """

    def __init__(self, after: Callable[[Tries, int], Tries], forgotten_after_ms: int | None = None) -> None:
        self._after = after
        self._forgotten_after_ms = forgotten_after_ms
        self._kept: dict[str, Tries] = {}

    def of(self, name: str, now_ms: int) -> Tries:
        """What is on record for a name."""
        tries = self._kept.get(name, Tries())
        forgotten = self._forgotten_after_ms is not None and abs(now_ms - tries.until_ms) > self._forgotten_after_ms
        return Tries() if forgotten else tries

    def failed(self, name: str, now_ms: int) -> Tries:
        """Count one more, and give what follows."""
        tries = self._after(self.of(name, now_ms), now_ms)
        self._kept.pop(name, None)
        self._kept[name] = tries
        while len(self._kept) > MOST_KEPT:
            del self._kept[next(iter(self._kept))]
        return tries


class Seldom:
    """Lets a thing through once in a while under each name, and not more than so many in all.

    For what is written down about strangers: nobody fills a disk by knocking.
    """

    def __init__(self, every_ms: int, most_in_an_hour: int) -> None:
        self._every_ms = every_ms
        self._most = most_in_an_hour
        self._last_ms: dict[str, int] = {}
        self._hour = (0, 0)

    def lets(self, name: str, now_ms: int) -> bool:
        """True where it is time again; counts it."""
        last_ms = self._last_ms.get(name)
        if last_ms is not None and abs(now_ms - last_ms) < self._every_ms:
            return False
        hour, count = self._hour
        if now_ms // 3_600_000 != hour:
            hour, count = now_ms // 3_600_000, 0
        if count >= self._most:
            return False
        self._hour = (hour, count + 1)
        self._last_ms.pop(name, None)
        self._last_ms[name] = now_ms
        while len(self._last_ms) > MOST_KEPT:
            del self._last_ms[next(iter(self._last_ms))]
        return True
