"""Who may hold how many connections at once. Bounded, in memory. Pure, but for its lock."""

import ipaddress
import threading
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from daemon.access.addresses import grouped

MOST_CONNECTIONS, MOST_OF_ONE = 300, 100
"""A browser holds six at a time, so this is sixteen browsers behind one address. Pages and inner broker together stay
below 1,024, where some libraries cannot wait for a connection any more. Project choice."""
_SHARE = 4


@dataclass(frozen=True, slots=True)
class Bounds:
    """How many connections are held: in all, and of one address unless that is one of the `trusted` proxies."""

    most: int
    most_of_one: int
    trusted: tuple[str, ...] = ()


def bounds_within(descriptors: int, trusted: Iterable[str] = ()) -> Bounds:
    """Give bounds for one listener of a process with so many descriptors: at least half of them stays for the rest."""
    most = max(1, min(MOST_CONNECTIONS, descriptors // _SHARE))
    return Bounds(most, max(1, min(MOST_OF_ONE, most * 2 // 3)), tuple(trusted))


class Places:
    """Counts who holds how many. Safe to use from any thread."""

    def __init__(self, bounds: Bounds) -> None:
        self._bounds = bounds
        self._trusted = [ipaddress.ip_network(each, strict=False) for each in bounds.trusted]
        self._lock = threading.RLock()
        self._held: Counter[str] = Counter()

    def take(self, name: str) -> bool:
        """Take one more place under a name, an address or an account; False where there is none left."""
        name = grouped(name) or name
        with self._lock:
            if self.is_full or self.has_enough(name):
                return False
            self._held[name] += 1
            return True

    def leave(self, name: str) -> None:
        """Give a place back."""
        name = grouped(name) or name
        with self._lock:
            self._held[name] -= 1
            if self._held[name] <= 0:
                del self._held[name]

    @property
    def held(self) -> int:
        """How many are taken."""
        with self._lock:
            return self._held.total()

    @property
    def is_full(self) -> bool:
        """True where no place is left for anybody."""
        return self.held >= self._bounds.most

    def held_by(self, name: str) -> int:
        """How many are taken under a name."""
        with self._lock:
            return self._held[grouped(name) or name]

    def has_enough(self, name: str) -> bool:
        """True where no more are given to this one, however many are left."""
        name = grouped(name) or name
        return self.held_by(name) >= self._bounds.most_of_one and not self._is_trusted(name)

    def _is_trusted(self, name: str) -> bool:
        if not self._trusted:
            return False
        try:
            peer = ipaddress.ip_network(name, strict=False)
        except ValueError:
            return False
        return any(peer.version == each.version and _overlap(peer, each) for each in self._trusted)


def _overlap(
    peer: ipaddress.IPv4Network | ipaddress.IPv6Network, proxy: ipaddress.IPv4Network | ipaddress.IPv6Network
) -> bool:
    # Addresses of one IPv6 site are counted under one name, so a proxy among them makes room for the site.
    return peer.overlaps(proxy)
