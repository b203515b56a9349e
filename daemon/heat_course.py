"""Heat of one place over a stretch of time, from the stored readings: best probe first, its gaps by the next one.

The temperature of a place is that of its box's probe, else its zone's, else its incubator's, and each gap in one is
asked of the next. What no probe covers is bounded by what is known of the incubator's cooling.
"""

import math
import sqlite3
from dataclasses import dataclass, field

from daemon.development.heat_gap import Cooling, gap_heat
from daemon.development.heat_interval import Gap, HeatLines, HeatPiece, HeatRule, covered_heat
from daemon.storage import samples
from daemon.thermometers import AirChannels

OTHER_PLACE_U_K = 0.5
"""Standard uncertainty of taking a zone's or an incubator's air for that of a box in it. This project's choice."""
_REACH_MS = 400 * 86_400_000
"""So far away a reading may lie that bounds a gap."""
_DEPTH_OF_A_BOX = 2


@dataclass(slots=True)
class HeatCourse:
    """Reads one moment of the journal; what was read or computed once is not read again while it lives."""

    conn: sqlite3.Connection
    air: AirChannels
    longest_bridge_ms: int
    _pieces: dict[tuple[tuple[str, ...], str, int, int, HeatRule], HeatPiece] = field(default_factory=dict)
    _cooling: dict[tuple[str, int, int], Cooling | None] = field(default_factory=dict)
    _lines: dict[tuple[str, int, int], HeatLines] = field(default_factory=dict)

    def forget(self) -> None:
        """Drop what was read and computed, before the next of many hours; how the incubators cool is kept."""
        self._pieces.clear()
        self._lines.clear()

    def newest_c(self, place: str, now_ms: int) -> float | None:
        """The newest temperature of a place by the best probe that has one; None where none is as new as a bridge."""
        for channel in self.air.channels_for.get(place, ()):
            near = self._readings(channel, now_ms - self.longest_bridge_ms, now_ms)
            recent = [value for at_ms, value in near if now_ms - self.longest_bridge_ms <= at_ms <= now_ms]
            if recent:
                return recent[-1]
        return None

    def piece(self, place: str, start_ms: int, end_ms: int, rule: HeatRule) -> HeatPiece:
        """Heat of a place from start to end."""
        channels, incubator_id = self.air.channels_for.get(place, ()), place.split("/", 1)[0]
        # A box without a probe of its own shares all it has with its neighbours.
        key = (channels, incubator_id, start_ms, end_ms, rule)
        if key not in self._pieces:
            piece, gaps = self._over(channels, start_ms, end_ms, rule)
            u_k = self._uncertainty_k(channels[0], start_ms) if channels else 0.0
            for gap in gaps:
                piece += self._gap(gap, rule, incubator_id, u_k)
            self._pieces[key] = piece
        return self._pieces[key]

    def _over(
        self, channels: tuple[str, ...], start_ms: int, end_ms: int, rule: HeatRule
    ) -> tuple[HeatPiece, list[Gap]]:
        """Heat that these channels cover, and the gaps that none of them does.

        A gap lies between readings of the channel that has the nearer ones: so what is taken for a moment does not
        depend on the stretch that is asked for, and stretches add up.
        """
        if not channels:
            return HeatPiece(), [Gap(start_ms, end_ms, None, None)]
        lines = self._lines_of(channels[0], start_ms, end_ms)
        piece = covered_heat(lines, rule, self._uncertainty_k(channels[0], start_ms))
        left: list[Gap] = []
        for gap in lines.gaps:
            other, others_gaps = self._over(channels[1:], gap.start_ms, gap.end_ms, rule)
            piece += other
            left += [_nearer(gap, each) for each in others_gaps]
        return piece, left

    def _gap(self, gap: Gap, rule: HeatRule, incubator_id: str, u_k: float) -> HeatPiece:
        start_ms = gap.start_ms if gap.before is None else gap.before[0]
        end_ms = gap.end_ms if gap.after is None else gap.after[0]
        key = (incubator_id, start_ms, end_ms)
        if key not in self._cooling:
            self._cooling[key] = self.air.cooling(self.conn, incubator_id, start_ms, end_ms)
        return gap_heat(gap, rule, self._cooling[key], u_k)

    def _lines_of(self, channel: str, start_ms: int, end_ms: int) -> HeatLines:
        key = (channel, start_ms, end_ms)
        if key not in self._lines:
            near = self._readings(channel, start_ms, end_ms)
            self._lines[key] = HeatLines(near, start_ms, end_ms, self.longest_bridge_ms)
        return self._lines[key]

    def _readings(self, channel: str, start_ms: int, end_ms: int) -> list[tuple[int, float]]:
        return self.air.corrected(channel, samples.good_between(self.conn, channel, start_ms, end_ms, _REACH_MS))

    def _uncertainty_k(self, channel: str, at_ms: int) -> float:
        u_k = self.air.uncertainty_k(channel, at_ms)
        is_in_box = any(at.count("/") == _DEPTH_OF_A_BOX for at, each in self.air.channel_at.items() if each == channel)
        return u_k if is_in_box else (u_k**2 + OTHER_PLACE_U_K**2) ** 0.5


def _nearer(mine: Gap, other: Gap) -> Gap:
    """The same stretch as `other`, between the readings of whichever gap is shorter."""
    if _length_ms(other) < _length_ms(mine):
        return other
    return Gap(other.start_ms, other.end_ms, mine.before, mine.after)


def _length_ms(gap: Gap) -> float:
    """From the reading before to the reading after; without one of them longer than all, without both longest."""
    if gap.before is None or gap.after is None:
        return math.inf if gap.before is None and gap.after is None else 1e18
    return gap.after[0] - gap.before[0]
