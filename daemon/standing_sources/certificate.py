"""Until when the broker's certificate is good, by the service's own connection and by what boards say."""

from collections.abc import Callable, Iterator, Mapping
from zoneinfo import ZoneInfo

from config.model import Probe
from config.site import Site
from config.words import AlarmKind
from daemon.arrival import BrokerState
from daemon.boards import Boards
from daemon.standing.certificate import SUBJECT, Known, certificate_ending
from daemon.standing.found import Found
from daemon.standing.machine import MachineFacts
from daemon.standing_sources.source import Moment
from daemon.storage import samples, status
from daemon.storage.samples import StoredReading

THERE_MS = 10 * 60_000
"""A board whose newest reading is older, or older than three intervals, may be gone, whatever the broker says."""
FORGOTTEN_MS = 24 * 3_600_000
"""Where for so long no board of the site was heard to speak of a certificate, there is none any more."""


class CertificateSource:
    """Judges it. A look reads a row of each channel."""

    kinds = frozenset({AlarmKind.CERTIFICATE_ENDING})
    every_ms = 60_000

    def __init__(self, site: Site, facts: Callable[[], MachineFacts], boards: Boards) -> None:
        self._zone = ZoneInfo(site.time_zone)
        self._probes = site.probes
        self._facts = facts
        self._boards = boards
        self._listened_ms: int | None = None

    def found(self, moment: Moment) -> Iterator[Found]:
        """What is wrong with it at this moment."""
        now_ms, broker = moment.now_ms, self._facts().broker
        if self._listened_ms is None or moment.set_by_ms:
            self._listened_ms = now_ms
        is_on = moment.is_on(AlarmKind.CERTIFICATE_ENDING, SUBJECT)
        known = list(self._known(moment, broker))
        may_be_on = is_on and not self._is_forgotten(broker, now_ms)
        found = certificate_ending(known, now_ms, self._zone, may_be_on=may_be_on)
        if found is not None:
            yield found

    def _is_forgotten(self, broker: BrokerState, now_ms: int) -> bool:
        heard = (self._boards.of(probe.id) for probe in self._probes)
        if any(each is not None and each.state.certificate_ends_s is not None for each in heard):
            return False
        listened_ms = max(self._listened_ms or now_ms, broker.since_ms)
        return broker.connected and now_ms - listened_ms >= FORGOTTEN_MS

    def _known(self, moment: Moment, broker: BrokerState) -> Iterator[Known]:
        if broker.connected and broker.certificate_ends_ms is not None:
            yield Known("this service", broker.certificate_ends_ms)
        said, newest = status.probe_statuses(moment.conn), samples.newest(moment.conn)
        for probe in self._probes:
            heard = self._boards.of(probe.id)
            is_online, _ = said.get(probe.id, (False, 0))
            if heard is not None and is_online and _is_there(probe, newest, moment.now_ms):
                ends_s = heard.state.certificate_ends_s
                yield Known(probe.id, None if ends_s is None else round(ends_s * 1000))


def _is_there(probe: Probe, newest: Mapping[str, StoredReading], now_ms: int) -> bool:
    """A broker that lost its power keeps `online` of a board that never comes back."""
    there_ms = max(THERE_MS, round(3000 * probe.interval_s))
    of_probe = (newest.get(f"{probe.id}/{channel.name}") for channel in probe.channels)
    return any(each is not None and now_ms - each.measured_at_ms < there_ms for each in of_probe)
