"""Doors for tests of single pages: everybody is the same visitor, without signing in."""

from daemon.access.values import AT_THE_DEMO, Role, Visitor
from dashboards.access.door import Door
from dashboards.access.hosts import KnownHosts

GUARD = "the-guard-of-the-demo"


def open_to(role: Role = Role.KEEPER, who: str = AT_THE_DEMO, public_url: str | None = None, guard: str = "") -> Door:
    """A door that lets everybody in as this visitor; with a `guard` every form has to carry it."""
    return Door(open_to=Visitor(who, role, guard), public_url=public_url)


def as_in_the_demo() -> Door:
    """A door that lets in whoever asks on the machine itself; forms carry `GUARD`."""
    return Door(open_to=Visitor(AT_THE_DEMO, Role.KEEPER, GUARD), here_alone=True, hosts=KnownHosts.of("::1", None))
