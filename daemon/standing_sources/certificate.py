"""Until when the broker's certificate is good, by the service's own connection and by what boards say. Reads memory."""

from collections.abc import Callable, Iterator
from zoneinfo import ZoneInfo

from config.site import Site
from config.words import AlarmKind
from daemon.boards import Boards
from daemon.standing.certificate import SUBJECT, Known, certificate_ending
from daemon.standing.found import Found
from daemon.standing.machine import MachineFacts
from daemon.standing_sources.source import Moment
from daemon.storage import status

ALL_SAID_MS = 5 * 60_000
"""The broker gives what boards said last at each connection; a board that was off with it connects within minutes."""


class CertificateSource:
    """Judges it. Only who is connected counts: whoever is not may have seen one that is not in use any more."""

    kinds = frozenset({AlarmKind.CERTIFICATE_ENDING})
    every_ms = 60_000

    def __init__(self, site: Site, facts: Callable[[], MachineFacts], boards: Boards) -> None:
        self._zone = ZoneInfo(site.time_zone)
        self._probes = site.probes
        self._facts = facts
        self._boards = boards

    def found(self, moment: Moment) -> Iterator[Found]:
        """What is wrong with it at this moment."""
        facts = self._facts()
        is_on = moment.is_on(AlarmKind.CERTIFICATE_ENDING, SUBJECT)
        asked = facts.broker.connected and facts.up_ms >= ALL_SAID_MS
        known = list(self._known(moment, facts))
        found = certificate_ending(known, moment.now_ms, self._zone, is_on=is_on, asked=asked)
        if found is not None:
            yield found

    def _known(self, moment: Moment, facts: MachineFacts) -> Iterator[Known]:
        if facts.broker.connected and facts.broker.certificate_ends_ms is not None:
            yield Known("this service", facts.broker.certificate_ends_ms)
        said = status.probe_statuses(moment.conn)
        for probe in self._probes:
            heard = self._boards.of(probe.id)
            ends_s = None if heard is None else heard.state.certificate_ends_s
            if ends_s is not None and probe.id in said and said[probe.id][0]:
                yield Known(probe.id, round(ends_s * 1000))
