"""Contacts that alerts do not reach. A look reads one small table: a row for each contact that fails."""

from collections.abc import Iterator

from config.site import Site
from config.words import AlarmKind
from daemon.contacts import names_by_contact
from daemon.standing.delivery import delivery_failing
from daemon.standing.found import Found
from daemon.standing_sources.source import Moment
from daemon.storage import deliveries


class DeliverySource:
    """Judges the contacts of a site; one that has left the site file is nobody's concern any more."""

    kinds = frozenset({AlarmKind.DELIVERY_FAILING})
    every_ms = 10_000

    def __init__(self, site: Site) -> None:
        self._names = names_by_contact(site)

    def found(self, moment: Moment) -> Iterator[Found]:
        """Every contact of the site that takes nothing."""
        for each in deliveries.failing(moment.conn):
            if each.contact in self._names:
                found = delivery_failing(each, self._names[each.contact], moment.now_ms)
                if found is not None:
                    yield found
