"""The door before all pages: what stands behind it, and what it knows of who may come in."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from daemon.access.values import AT_THE_DEMO, Role, Visitor
from daemon.access_desk import AccessDesk
from dashboards.access.hosts import KnownHosts, is_loopback_host
from dashboards.origin import asks_this_machine


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


@dataclass(frozen=True, slots=True)
class Door:
    """Who is let in.

    `desk`: accounts, sessions and keys. `open_to`: who everybody is that shows neither cookie nor key; with
    `here_alone` only in a browser on the machine itself. `hosts`: the names that are ours, None for any.
    `behind_proxy`: browsers come by https although the proxy passes them on by http.
    `now_ms`: UTC ms, of a clock that runs as fast as people do.
    """

    desk: AccessDesk | None = None
    open_to: Visitor | None = None
    here_alone: bool = False
    hosts: KnownHosts | None = None
    public_url: str | None = None
    behind_proxy: bool = False
    time_zone: str = "UTC"
    now_ms: Callable[[], int] = _now_ms

    @property
    def ours(self) -> tuple[str, ...]:
        """Addresses of our own, beside the host that is asked for."""
        return () if self.public_url is None else (self.public_url,)

    def is_https(self, scheme: str, host_header: str) -> bool:
        """True where the browser came by https."""
        return scheme == "https" or (self.behind_proxy and not is_loopback_host(host_header))

    def uninvited(self, headers: Mapping[str, str]) -> Visitor | None:
        """Who somebody is without cookie and key: nobody, except where these pages are open."""
        if self.open_to is None or (self.here_alone and not asks_this_machine(headers)):
            return None
        # There is no password to give again.
        return replace(self.open_to, confirmed_ms=self.now_ms())


def door_without_sign_in() -> Door:
    """Let everybody in as a keeper: for tests of single pages, never for pages that somebody else can reach."""
    return Door(open_to=Visitor(AT_THE_DEMO, Role.KEEPER))
