"""How warm and how humid a place was over a period, from the journal: each channel is read once."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from config.places import Places
from config.site import Site
from config.words import Quantity
from daemon.climate.cooling_now import rate_k_h
from daemon.heat_course import OTHER_PLACE_U_K
from daemon.limit_steps import SATURATED_PCT
from daemon.review.clutch_exposure import Course
from daemon.review.course import GapCourse, GapKind
from daemon.review.estimate import gap_course
from daemon.review.gap_values import NOISE_K, Around, HeatOff, Known
from daemon.review.record import Open, PlaceRecord, Series, place_record
from daemon.review.values import Span
from daemon.review_cooling import PlaceCooling
from daemon.storage import samples
from daemon.thermometers import AirChannels

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

OTHER_PLACE_K = 2 * OTHER_PLACE_U_K
"""So far a place may be from what a probe around it reads, about 95 %."""
_REACH_MS = 400 * 86_400_000
"""So far away a reading may lie that bounds a gap."""
_SLOPE_MS = 30 * 60_000
"""How long behind a gap is looked whether the temperature rises or falls. Project choice."""


@dataclass(slots=True)
class PlaceRecords:
    """Reads one moment of the journal; what was read or reckoned once is not again. Not to be kept.

    `heat_off` are the spans over which there is evidence that the heat was off somewhere.
    """

    conn: sqlite3.Connection
    site: Site
    air: AirChannels
    bridge_ms: int
    heat_off: Sequence[HeatOff] = ()
    _places: Places = field(init=False)
    _cooling: PlaceCooling = field(init=False)
    _humid: dict[str, str] = field(init=False)
    _series: dict[tuple[str, int, int], Series] = field(default_factory=dict)
    _slopes: dict[tuple[str, int], float | None] = field(default_factory=dict)
    _records: dict[tuple[object, ...], PlaceRecord] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._places = Places(self.site)
        self._cooling = PlaceCooling(self.conn, self.site, self.air)
        self._humid = {
            probe.place: f"{probe.id}/{channel.name}"
            for probe in self.site.probes
            for channel in probe.channels
            if channel.quantity is Quantity.RELATIVE_HUMIDITY
        }

    def humidity_channel(self, place: str) -> str:
        """The channel that measures humidity in a place itself; empty where none does."""
        return self._humid.get(place, "")

    def temperature(self, place: str, from_ms: int, to_ms: int) -> PlaceRecord:
        """How warm a place was between two moments: measured, by another probe, estimated."""
        channels = self.air.channels_for.get(place, ())
        is_box, off = place in self._places.boxes, tuple(each for each in self.heat_off if each.holds_for(place))
        # A box without a probe of its own shares all it has with its neighbours.
        own = bool(channels) and self.air.channel_at.get(place) == channels[0]
        key = (channels, own, is_box, place.split("/", maxsplit=1)[0], off, from_ms, to_ms)
        if key not in self._records:
            offs = [0.0 if own and not number else OTHER_PLACE_K for number in range(len(channels))]
            series = [
                self._read(channel, from_ms, to_ms, off_by) for channel, off_by in zip(channels, offs, strict=True)
            ]
            self._records[key] = place_record(
                series, from_ms, to_ms, self.bridge_ms, lambda gap: self._course(place, series, off, gap)
            )
        return self._records[key]

    def humidity(self, place: str, from_ms: int, to_ms: int) -> PlaceRecord:
        """How humid it was by the probe of the place itself, % RH; nothing is estimated of what nobody measured."""
        channel = self.humidity_channel(place)
        series = [self._read(channel, from_ms, to_ms, 0.0)] if channel else []
        return place_record(series, from_ms, to_ms, self.bridge_ms, _nothing_known)

    def courses(self, place: str, from_ms: int, to_ms: int) -> tuple[Course, ...]:
        """Give the same as `temperature` as the exposure of a clutch is reckoned from, in order of time.

        What another probe measured counts as a gap: of the place itself it is no measurement.
        """
        record = self.temperature(place, from_ms, to_ms)
        measured = [Course(record.own, record.own, record.own, is_gap=False)] if record.own_ms else []
        gaps = [Course(gap.low_lines, gap.best_lines, gap.high_lines, is_gap=True) for gap in record.gaps]
        return tuple(sorted([*measured, *gaps], key=lambda course: float(course.low.from_ms[0])))

    def extremes(self, channel: str, from_ms: int, to_ms: int) -> tuple[Known, Known] | None:
        """The lowest and the highest that a channel measured between two moments; None where it measured nothing."""
        import numpy as np

        series = self._read(channel, from_ms, to_ms, 0.0)
        inside = np.flatnonzero((series.times_ms >= from_ms) & (series.times_ms <= to_ms))
        if not inside.size:
            return None
        times, values = series.times_ms[inside], series.values[inside]
        lowest, highest = (Known(int(times[at]), float(values[at])) for at in (values.argmin(), values.argmax()))
        return lowest, highest

    def _read(self, channel: str, from_ms: int, to_ms: int, off_by: float) -> Series:
        """Readings of a channel, corrected, with those around the period that bound its gaps."""
        import numpy as np

        key = (channel, from_ms, to_ms)
        if key not in self._series:
            rows = samples.good_between(self.conn, channel, from_ms, to_ms, _REACH_MS)
            corrected = self.air.corrected(channel, rows)
            both = np.array(corrected, dtype=np.float64).reshape(-1, 2)
            # A wet element reads a little over 100 %, which is the same air as 100 %.
            values = np.minimum(both[:, 1], SATURATED_PCT) if channel in self._humid.values() else both[:, 1]
            self._series[key] = Series(channel, both[:, 0].copy(), values.copy())
        found = self._series[key]
        return Series(channel, found.times_ms, found.values, off_by)

    def _course(self, place: str, series: Sequence[Series], off: Sequence[HeatOff], gap: Open) -> GapCourse:
        from_ms = gap.from_ms if gap.before is None else gap.before.at_ms
        to_ms = gap.to_ms if gap.after is None else gap.after.at_ms
        read = series[gap.series] if gap.series < len(series) else None
        around = Around(
            from_ms,
            to_ms,
            gap.before,
            gap.after,
            None if read is None or gap.after is None else self._slope_k_h(read.channel, gap.after.at_ms),
            NOISE_K if read is None else NOISE_K + read.off_by,
        )
        heat_off = max(off, key=lambda each: _overlap_ms(each.span, from_ms, to_ms), default=None)
        if heat_off is not None and _overlap_ms(heat_off.span, from_ms, to_ms) <= 0:
            heat_off = None
        rise = None if read is None else self._cooling.rise(read.channel, to_ms)
        return gap_course(around, self._cooling.passive(place, from_ms, to_ms), rise, heat_off)

    def _slope_k_h(self, channel: str, from_ms: int) -> float | None:
        """How fast the first readings from a moment on change, K/h; None where their scatter hides it.

        Read apart from the period, so that a gap is the same in whatever period it is looked at.
        """
        if (channel, from_ms) not in self._slopes:
            rows = samples.good_between(self.conn, channel, from_ms, from_ms + _SLOPE_MS, 0)
            rate = rate_k_h(self.air.corrected(channel, rows))
            is_clear = rate is not None and abs(rate.value) > 2 * rate.standard_uncertainty
            self._slopes[channel, from_ms] = rate.value if rate is not None and is_clear else None
        return self._slopes[channel, from_ms]


def _overlap_ms(span: Span, from_ms: int, to_ms: int) -> int:
    return min(span.until(to_ms), to_ms) - max(span.from_ms, from_ms)


def _nothing_known(gap: Open) -> GapCourse:
    """A gap of which nothing is estimated."""
    import numpy as np

    both = np.array([gap.from_ms, gap.to_ms], dtype=np.float64)
    return GapCourse(
        span=Span(gap.from_ms, gap.to_ms),
        kind=GapKind.NOBODY_KNOWS,
        before=gap.before,
        after=gap.after,
        at_ms=both,
        low_c=np.full(2, -np.inf),
        best_c=np.full(2, np.nan),
        high_c=np.full(2, np.inf),
        heat_back_ms=None,
        contradiction=False,
        reason="Nothing is estimated of a time in which nobody measured the humidity.",
    )
