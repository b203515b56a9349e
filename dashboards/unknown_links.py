"""How long an address that tries links has to wait. Bounded, in memory; the time is an argument.

A token cannot be guessed; this keeps a machine that tries from costing more than a few lookups. A link that is good is
never refused: behind one proxy all have one address, and somebody else's attempts must not keep a person from
acknowledging.
"""

import ipaddress
import threading

FREE_ATTEMPTS = 5
LONGEST_WAIT_S = 300.0
FORGOTTEN_AFTER_S = 3_600.0
MOST_ADDRESSES = 1_024
_MOST_DOUBLINGS = 12
_IPV6_SITE_BITS = 64


class UnknownLinks:
    """Counts unknown links for each address. Safe to use from several threads."""

    def __init__(self) -> None:
        self._failed: dict[str, tuple[int, float]] = {}
        self._lock = threading.Lock()

    def failed(self, address: str, now_s: float) -> float:
        """Count one more, and give the seconds to wait; 0 where it is to be answered."""
        name = _grouped(address)
        with self._lock:
            attempts, until_s = self._failed.pop(name, (0, now_s))
            if now_s - until_s > FORGOTTEN_AFTER_S:
                attempts = 0
            if until_s > now_s:
                # Whoever goes on trying meanwhile waits no longer for it, and learns nothing either.
                self._failed[name] = (attempts, until_s)
                return until_s - now_s
            attempts += 1
            over = min(attempts - FREE_ATTEMPTS, _MOST_DOUBLINGS)
            wait_s = min(2.0**over, LONGEST_WAIT_S) if over >= 0 else 0.0
            self._failed[name] = (attempts, now_s + wait_s)
            while len(self._failed) > MOST_ADDRESSES:
                del self._failed[next(iter(self._failed))]
        return 0.0


def _grouped(address: str) -> str:
    """One name for all addresses of an IPv6 site, which has more of them than can be counted."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return ""
    if found.version == 4:  # noqa: PLR2004 - of IP
        return str(found)
    return str(ipaddress.ip_network((found, _IPV6_SITE_BITS), strict=False))
