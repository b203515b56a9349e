"""The mirror, from the journal. A look reads a few rows by their keys and asks no network."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from config.mirror import MirrorSettings
from config.site import Site
from config.words import AlarmKind
from daemon.mirror.target import target_of
from daemon.standing.found import Found
from daemon.standing.mirror import MirrorFacts, mirror_behind
from daemon.standing_sources.source import Moment
from daemon.storage import mirror


class MirrorStanding:
    """Judges how far the mirror is; a site without one has none to judge."""

    kinds = frozenset({AlarmKind.MIRROR_BEHIND})
    every_ms = 60_000

    def __init__(self, site: Site, settings: MirrorSettings) -> None:
        self._zone = ZoneInfo(site.time_zone)
        self._target = target_of(settings).key if settings.enabled else ""

    def found(self, moment: Moment) -> Iterator[Found]:
        """What is wrong with the mirror at this moment."""
        if not self._target:
            return
        state, waiting = mirror.state(moment.conn, self._target), mirror.backlog(moment.conn, self._target)
        if state is None:
            # The service writes this down within seconds after its first try.
            return
        facts = MirrorFacts(waiting.readings, waiting.oldest_ms, state.progress_ms, state.begun_ms, state.trouble)
        found = mirror_behind(facts, moment.now_ms, self._zone)
        if found is not None:
            yield found
