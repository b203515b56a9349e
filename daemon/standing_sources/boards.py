"""What boards say of themselves. A look reads two small tables; 64 boards cost well under a millisecond."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from config.site import Site
from config.words import AlarmKind
from daemon.boards import Boards
from daemon.standing.board import BoardFacts, board_trouble
from daemon.standing.found import Found
from daemon.standing_sources.source import Moment
from daemon.storage import status
from daemon.storage.status import Losses


class BoardSource:
    """Judges the boards of probes that watch eggs."""

    kinds = frozenset({AlarmKind.BOARD_TROUBLE})
    every_ms = 15_000

    def __init__(self, site: Site, boards: Boards) -> None:
        self._zone = ZoneInfo(site.time_zone)
        self._probes = site.probes
        self._boards = boards
        self._listened_ms: int | None = None

    def found(self, moment: Moment) -> Iterator[Found]:
        """What is wrong with boards at this moment."""
        now_ms = moment.now_ms
        if self._listened_ms is None or moment.set_by_ms:
            self._listened_ms = now_ms
        said, losses = status.probe_statuses(moment.conn), status.losses(moment.conn)
        for probe in self._probes:
            if not moment.occupancy.lying_in(probe.place, now_ms):
                continue
            loss = losses.get(probe.id, Losses(0, None))
            facts = BoardFacts(
                probe=probe.id,
                place=probe.place,
                heard=self._boards.of(probe.id),
                online=said[probe.id][0] if probe.id in said else None,
                listened_ms=self._listened_ms,
                lost=loss.lost,
                lost_ms=loss.grew_ms,
            )
            is_on = moment.is_on(AlarmKind.BOARD_TROUBLE, probe.id)
            found = board_trouble(facts, now_ms, self._zone, is_on=is_on)
            if found is not None:
                yield found
