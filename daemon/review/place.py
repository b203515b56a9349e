"""Pure: what the review of a period says of one place."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from daemon.review.course import GapCourse
from daemon.review.gap_values import Known
from daemon.review.values import Bounds, Span, Verdict


class LimitKind(StrEnum):
    """Which limit of a place."""

    LETHAL_LOW = "lethal-low"
    LOW = "low"
    HIGH = "high"
    LETHAL_HIGH = "lethal-high"
    HUMIDITY_LOW = "humidity-low"
    HUMIDITY_HIGH = "humidity-high"

    @property
    def is_above(self) -> bool:
        """True where being above it is being outside."""
        return self in (LimitKind.HIGH, LimitKind.LETHAL_HIGH, LimitKind.HUMIDITY_HIGH)

    @property
    def is_humidity(self) -> bool:
        """True where it is one of relative humidity."""
        return self in (LimitKind.HUMIDITY_LOW, LimitKind.HUMIDITY_HIGH)


@dataclass(frozen=True, slots=True)
class LimitInForce:
    """A limit (degree Celsius or % RH) and the stretch over which it held: who lies there changes, and so do stages."""

    span: Span
    value: float


@dataclass(frozen=True, slots=True)
class LimitReview:
    """One limit of one place over a period.

    `outside_ms`: time outside; `low` is what is certain, `high` what is possible with all that gaps may have held.
    `degree_hours` is None for humidity (nothing is estimated of it in gaps). `longest_run_ms`: the longest run without
    coming back. `verdict` is OUT where `outside_ms.low` is above 0, IN where `outside_ms.high` is 0, else UNKNOWN.
    `first_out_ms`, `last_out_ms`: first and last moment certainly outside, None where there is none.
    `reason` is a sentence.
    """

    kind: LimitKind
    in_force: tuple[LimitInForce, ...]
    verdict: Verdict
    outside_ms: Bounds
    degree_hours: Bounds | None
    longest_run_ms: Bounds
    first_out_ms: int | None
    last_out_ms: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class PlaceReview:
    """One place over a period. Temperatures in degree Celsius, times UTC ms.

    `channel` is the one that speaks for it ("probe/channel"), empty where none does; `own_probe` says whether that one
    is in the place itself. `lowest` and `highest` are what that channel measured in the period, with the moment, None
    where it measured nothing. `gaps`: the course inside each gap of that channel, in order, with the last good reading
    before and the first after; a gap over which another probe was read is one of kind OTHER_PROBE.
    `measured_ms` + `other_ms` + `gap_ms` are the whole period; `other_ms` is the time over which only a probe around
    the place was read, all of it where the place has none of its own. Nothing is estimated inside `humidity_gaps`.
    """

    place: str
    name: str
    channel: str
    own_probe: bool
    span: Span
    measured_ms: int
    other_ms: int
    gap_ms: int
    lowest: Known | None
    highest: Known | None
    gaps: tuple[GapCourse, ...]
    limits: tuple[LimitReview, ...]
    humidity_channel: str
    lowest_humidity: Known | None
    highest_humidity: Known | None
    humidity_gaps: tuple[GapCourse, ...]

    @property
    def verdict(self) -> Verdict:
        """Of all limits together: out where one is out, unknown where one is unknown or there is none."""
        return _of(self.limits)

    @property
    def temperature_verdict(self) -> Verdict:
        """The same of the limits of temperature alone: humidity is measured in few places, and estimated in none."""
        return _of([each for each in self.limits if not each.kind.is_humidity])


def _of(limits: Sequence[LimitReview]) -> Verdict:
    verdicts = {each.verdict for each in limits}
    if Verdict.OUT in verdicts:
        return Verdict.OUT
    return Verdict.UNKNOWN if Verdict.UNKNOWN in verdicts or not verdicts else Verdict.IN
