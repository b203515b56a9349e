"""The limits of a place: what suits every clutch that lies in it. Pure.

Where the ranges of all clutches overlap, the overlap is the limit. Where they do not, no temperature suits all, and
somebody has to move a clutch: each such pair is a conflict, told once and by name. The warning limits then become the
widest envelope (lowest low, highest high). Any narrower choice would be in alarm at every temperature, and an alarm
that is always on hides the next one. Lethal limits are the tightest of all clutches in every case, and a warning limit
never lies at or past a lethal one.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from config.species import SpeciesProfile
from config.words import AlarmKind, Quantity
from daemon.alarms.conditions import Rule, Side
from daemon.alarms.definitions import AlarmDefinition
from daemon.development.stages import ranges_in_force, stage_name

WARNING_ROOM_C = 0.5
"""A warning limit that had to be moved warns this far (°C) before the lethal one. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Occupant:
    """A clutch in the place: what the keeper calls it, what it needs, and the index of its stage (None: before any)."""

    label: str
    profile: SpeciesProfile
    stage: int | None = None

    def __str__(self) -> str:
        named = f"the {self.profile.common_name} clutch {self.label}"
        return named if self.stage is None else f"{named} ({stage_name(self.profile.stages[self.stage])})"


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two clutches that should not share a place, by label, and why in words."""

    quantity: Quantity
    first: str
    second: str
    reason: str


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of one place; None where nothing is watched. °C and %RH."""

    lethal_low_c: float | None = None
    low_c: float | None = None
    high_c: float | None = None
    lethal_high_c: float | None = None
    humidity_low_pct: float | None = None
    humidity_high_pct: float | None = None
    conflicts: tuple[Conflict, ...] = ()


@dataclass(frozen=True, slots=True)
class _Span:
    owner: Occupant
    low: float
    high: float


def overlap(occupants: Sequence[Occupant]) -> Limits:
    """Give the limits that follow from the clutches in a place, each at its stage. No clutch, no limits."""
    if not occupants:
        return Limits()
    needs = [(each, ranges_in_force(each.profile, each.stage)) for each in occupants]
    warm = [_Span(each, one.low_c, one.high_c) for each, one in needs]
    damp = [
        _Span(each, one.humidity_low_pct, one.humidity_high_pct)
        for each, one in needs
        if one.humidity_low_pct is not None and one.humidity_high_pct is not None
    ]
    low_c, high_c = _common(warm)
    humidity_low_pct, humidity_high_pct = _common(damp) if damp else (None, None)
    lethal_lows = [low for each in occupants if (low := _lethal_low(each)) is not None]
    limits = Limits(
        lethal_low_c=max(lethal_lows, default=None),
        low_c=low_c,
        high_c=high_c,
        lethal_high_c=min(each.profile.temperature.lethal_high.value for each in occupants),
        humidity_low_pct=humidity_low_pct,
        humidity_high_pct=humidity_high_pct,
        conflicts=(*_conflicts(warm, _disjoint_c), *_conflicts(damp, _disjoint_pct), *_conflicts(warm, _lethal)),
    )
    return _inside_lethal(limits)


def limit_of(limits: Limits, kind: AlarmKind) -> tuple[Side, float | None] | None:
    """Give side and figure that an alarm kind watches; None for the kinds that have no limit."""
    return {
        AlarmKind.TEMPERATURE_LETHAL_HIGH: (Side.HIGH, limits.lethal_high_c),
        AlarmKind.TEMPERATURE_LETHAL_LOW: (Side.LOW, limits.lethal_low_c),
        AlarmKind.TEMPERATURE_HIGH: (Side.HIGH, limits.high_c),
        AlarmKind.TEMPERATURE_LOW: (Side.LOW, limits.low_c),
        AlarmKind.HUMIDITY_HIGH: (Side.HIGH, limits.humidity_high_pct),
        AlarmKind.HUMIDITY_LOW: (Side.LOW, limits.humidity_low_pct),
    }.get(kind)


def rule_for(definition: AlarmDefinition, limits: Limits, longest_gap_s: float) -> Rule | None:
    """Give the rule that a condition of this kind steps by; None where there is no limit to watch.

    A deadband may not reach the limit on the other side, or the alarm could end only in the opposite alarm
    (OPC 10000-9, 5.8.18: high limit less its deadband lies above the low limit, and the reverse). In a band too narrow
    for it the deadband is a third of the band, so that the deadbands of both limits leave a third free.
    """
    found = limit_of(limits, definition.kind)
    if found is None or found[1] is None:
        return None
    low, high = limits.low_c, limits.high_c
    if definition.kind in (AlarmKind.HUMIDITY_HIGH, AlarmKind.HUMIDITY_LOW):
        low, high = limits.humidity_low_pct, limits.humidity_high_pct
    deadband = definition.deadband
    if low is not None and high is not None:
        deadband = min(deadband, (high - low) / 3)
    return Rule(
        side=found[0],
        limit=found[1],
        deadband=deadband,
        on_delay_s=definition.on_delay_s,
        off_delay_s=definition.off_delay_s,
        at_once_beyond=definition.at_once_beyond,
        longest_gap_s=longest_gap_s,
    )


def _common(spans: Sequence[_Span]) -> tuple[float, float]:
    low, high = max(span.low for span in spans), min(span.high for span in spans)
    if low < high:
        return low, high
    return min(span.low for span in spans), max(span.high for span in spans)


def _conflicts(spans: Sequence[_Span], judge: Callable[[_Span, _Span], Conflict | None]) -> Iterable[Conflict]:
    """Give each pair that `judge` objects to. Clutches of one profile with one range are told as one."""
    first_alike = {_alike(span): span for span in reversed(spans)}
    kept = [span for span in spans if first_alike[_alike(span)] is span]
    for one, other in combinations(kept, 2):
        conflict = judge(one, other) or judge(other, one)
        if conflict is not None:
            yield conflict


def _alike(span: _Span) -> tuple[str, float, float]:
    return span.owner.profile.id, span.low, span.high


def _disjoint_c(one: _Span, other: _Span) -> Conflict | None:
    return _disjoint(one, other, Quantity.AIR_TEMPERATURE, "°C", "temperature")


def _disjoint_pct(one: _Span, other: _Span) -> Conflict | None:
    return _disjoint(one, other, Quantity.RELATIVE_HUMIDITY, "% RH", "humidity")


def _disjoint(lower: _Span, upper: _Span, quantity: Quantity, unit: str, word: str) -> Conflict | None:
    if lower.high < upper.low:
        verdict = f"no {word} suits both"
    elif lower.high == upper.low:
        verdict = "they meet in one point, which no incubator holds"
    else:
        return None
    reason = (
        f"{lower.owner} wants {lower.low:.1f} to {lower.high:.1f} {unit}, "
        f"{upper.owner} wants {upper.low:.1f} to {upper.high:.1f} {unit}; {verdict}. Move one of them."
    )
    return Conflict(quantity, lower.owner.label, upper.owner.label, reason)


def _lethal(tender: _Span, other: _Span) -> Conflict | None:
    """Object to a temperature that one clutch wants and that kills the other."""
    heat, cold = tender.owner.profile.temperature.lethal_high.value, _lethal_low(tender.owner)
    if other.high >= heat:
        where = f"{heat:.1f} °C and above"
    elif cold is not None and other.low <= cold:
        where = f"{cold:.1f} °C and below"
    else:
        return None
    reason = (
        f"{where} can kill {tender.owner}, but {other.owner} wants {other.low:.1f} to {other.high:.1f} °C. "
        "The lethal limit stays, and a warning limit past it is pulled inside it."
    )
    return Conflict(Quantity.AIR_TEMPERATURE, tender.owner.label, other.owner.label, reason)


def _lethal_low(occupant: Occupant) -> float | None:
    found = occupant.profile.temperature.lethal_low
    return None if found is None else found.value


def _inside_lethal(limits: Limits) -> Limits:
    """Pull warning limits inside the lethal ones. Where the lethal limits cross, they alone speak: no band is left."""
    cold, heat, low, high = limits.lethal_low_c, limits.lethal_high_c, limits.low_c, limits.high_c
    if heat is None or low is None or high is None:
        return limits
    if cold is not None and cold >= heat:
        return replace(limits, low_c=None, high_c=None)
    floor, ceiling = low if cold is None else max(low, cold), min(high, heat)
    room = min(WARNING_ROOM_C, (ceiling - floor) / 4)
    if high >= heat:
        high = heat - room
    if cold is not None and low <= cold:
        low = cold + room
    return replace(limits, low_c=low, high_c=high)
