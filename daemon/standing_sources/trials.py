"""Weekly tests that nobody confirmed, from the journal."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from config.site import Site
from config.words import AlarmKind
from daemon.contacts import names_by_contact
from daemon.standing.found import Found
from daemon.standing.trials import unconfirmed
from daemon.standing_sources.source import Moment
from daemon.storage import trials

LOOKS_BACK_MS = 36 * 24 * 3_600_000
"""Five tests at least: whoever confirms none of them is found by the newest."""


class TrialSource:
    """Asks for every contact of the site: one that has left the site file has no alarm any more.

    Where the keeper has switched tests off there is nothing to confirm. A look costs one search in an index for each
    contact.
    """

    kinds = frozenset({AlarmKind.TEST_UNCONFIRMED})
    every_ms = 60_000

    def __init__(self, site: Site) -> None:
        self._names = names_by_contact(site) if site.messages.test else {}
        self._zone = ZoneInfo(site.time_zone)

    def found(self, moment: Moment) -> Iterator[Found]:
        """Every contact with a test that is a day old and that nobody confirmed."""
        for contact, name in self._names.items():
            sent_ms = trials.unconfirmed(moment.conn, contact, moment.now_ms - LOOKS_BACK_MS, moment.now_ms)
            found = unconfirmed(contact, name, sent_ms, moment.now_ms, self._zone)
            if found is not None:
                yield found
