"""How a reading stands against its limits, in words and shapes. Pure.

A mark is a shape, a word and a tone: nothing on a page is told by colour alone. A reading that is missing, old or
suspect is never "in range": unknown is not normal.
"""

from enum import IntEnum, StrEnum
from typing import NamedTuple

from config.words import AlarmKind, Priority, Quantity
from daemon.alarms.wrong import WRONG
from daemon.overview import ChannelNow, ClimateNow, Overview
from sensors.reading import Quality


class Tone(StrEnum):
    """How urgent; the style sheet gives each a colour."""

    CRITICAL = "critical"
    HIGH = "high"
    LOW = "low"
    UNKNOWN = "unknown"
    WELL = "well"
    PLAIN = "plain"


class Shape(StrEnum):
    """What kind; each is drawn once in the page and used by name."""

    EGG = "egg"
    UP = "up"
    DOWN = "down"
    DOUBLE_UP = "double-up"
    DOUBLE_DOWN = "double-down"
    GAP = "gap"
    FAULT = "fault"
    RING = "ring"
    APART = "apart"
    DROP = "drop"
    CAUTION = "caution"
    RISING = "rising"
    FALLING = "falling"
    STEADY = "steady"
    UNTOLD = "untold"


class Mark(NamedTuple):
    """Shape, word and tone of one state."""

    shape: Shape
    word: str
    tone: Tone


class Standing(IntEnum):
    """How one channel stands; the greater the worse."""

    NO_LIMITS = 0
    IN_RANGE = 1
    UNCONFIRMED = 2
    """within its limits, while the service has a trouble of its own"""
    OLD = 3
    SUSPECT = 4
    NO_READING = 5
    LOW = 6
    HIGH = 7
    LETHAL_LOW = 8
    LETHAL_HIGH = 9


OUTSIDE: dict[Standing, tuple[Shape, Tone]] = {
    Standing.LETHAL_HIGH: (Shape.DOUBLE_UP, Tone.CRITICAL),
    Standing.LETHAL_LOW: (Shape.DOUBLE_DOWN, Tone.CRITICAL),
    Standing.HIGH: (Shape.UP, Tone.HIGH),
    Standing.LOW: (Shape.DOWN, Tone.LOW),
}
"""How a reading outside its limits is drawn, the worst first."""

_OUTSIDE_KINDS: dict[Standing, AlarmKind] = {
    Standing.LETHAL_HIGH: AlarmKind.TEMPERATURE_LETHAL_HIGH,
    Standing.LETHAL_LOW: AlarmKind.TEMPERATURE_LETHAL_LOW,
    Standing.HIGH: AlarmKind.TEMPERATURE_HIGH,
    Standing.LOW: AlarmKind.TEMPERATURE_LOW,
}
_OUTSIDE_HUMIDITY_KINDS: dict[Standing, AlarmKind] = {
    Standing.HIGH: AlarmKind.HUMIDITY_HIGH,
    Standing.LOW: AlarmKind.HUMIDITY_LOW,
}
"""What each would be called as an alarm, so that a page and a phone use one word for it."""

_OTHER_MARKS: dict[Standing, Mark] = {
    Standing.NO_LIMITS: Mark(Shape.RING, "measured, no limits here", Tone.PLAIN),
    Standing.IN_RANGE: Mark(Shape.EGG, "in range", Tone.WELL),
    Standing.UNCONFIRMED: Mark(Shape.GAP, "unconfirmed", Tone.UNKNOWN),
    Standing.OLD: Mark(Shape.GAP, "old reading", Tone.UNKNOWN),
    Standing.SUSPECT: Mark(Shape.FAULT, "suspect", Tone.UNKNOWN),
    Standing.NO_READING: Mark(Shape.GAP, "no reading", Tone.UNKNOWN),
}

CONFLICT_MARK = Mark(Shape.APART, "clutches do not suit", Tone.LOW)
WATER_MARK = Mark(Shape.DROP, "water settles", Tone.LOW)

ALARM_SHAPES: dict[AlarmKind, Shape] = {
    AlarmKind.TEMPERATURE_LETHAL_HIGH: Shape.DOUBLE_UP,
    AlarmKind.TEMPERATURE_LETHAL_LOW: Shape.DOUBLE_DOWN,
    AlarmKind.TEMPERATURE_HIGH: Shape.UP,
    AlarmKind.TEMPERATURE_LOW: Shape.DOWN,
    AlarmKind.HUMIDITY_HIGH: Shape.UP,
    AlarmKind.HUMIDITY_LOW: Shape.DOWN,
    AlarmKind.NO_DATA: Shape.GAP,
    AlarmKind.PROBE_FAULT: Shape.FAULT,
    AlarmKind.NO_DATA_LONG: Shape.GAP,
    AlarmKind.LAST_PROBE_SILENT: Shape.GAP,
    AlarmKind.SITE_SILENT: Shape.GAP,
    AlarmKind.PROBES_DISAGREE: Shape.APART,
    AlarmKind.TEMPERATURE_FALLING: Shape.DOWN,
    AlarmKind.TEMPERATURE_RISING: Shape.UP,
    AlarmKind.LIMIT_AHEAD: Shape.RING,
    AlarmKind.LETHAL_AHEAD: Shape.RING,
    AlarmKind.EXPOSURE: Shape.RING,
    AlarmKind.CONDENSATION: Shape.DROP,
    AlarmKind.MAINS_LOST: Shape.FAULT,
    AlarmKind.DOOR_OPEN: Shape.APART,
    AlarmKind.CLOCK_STEPPED: Shape.FAULT,
    AlarmKind.BROKER_LOST: Shape.GAP,
    AlarmKind.DISK_LOW: Shape.FAULT,
    AlarmKind.DELIVERY_FAILING: Shape.FAULT,
    AlarmKind.JOURNAL_FAILING: Shape.FAULT,
    AlarmKind.NO_COMMON_RANGE: Shape.APART,
    AlarmKind.ROUND_NOT_ENDED: Shape.RING,
    AlarmKind.ROUND_OVERDUE: Shape.RING,
    AlarmKind.NEAR_PIPPING: Shape.EGG,
    AlarmKind.HATCH_OVERDUE: Shape.EGG,
    AlarmKind.TEST_UNCONFIRMED: Shape.RING,
    AlarmKind.BACKUP_FAILING: Shape.FAULT,
    AlarmKind.RESTORE_TEST_FAILED: Shape.FAULT,
    AlarmKind.MIRROR_BEHIND: Shape.GAP,
    AlarmKind.BOARD_TROUBLE: Shape.FAULT,
    AlarmKind.CERTIFICATE_ENDING: Shape.RING,
}

PRIORITY_TONES: dict[Priority, Tone] = {
    Priority.CRITICAL: Tone.CRITICAL,
    Priority.HIGH: Tone.HIGH,
    Priority.LOW: Tone.LOW,
}

_FLAG_WORDS: dict[Quality, str] = {
    Quality.OUT_OF_RANGE: "outside what can be true here",
    Quality.FAULT_VALUE: "the value of a broken or unplugged probe",
    Quality.TOO_FAST: "changed faster than air can",
    Quality.STUCK: "the very same value for too long",
}


def standing(channel: ChannelNow, overview: Overview) -> Standing:
    """Judge one channel at the moment of the overview. Limits themselves are in range; a missing one is not watched.

    A service in trouble cannot vouch that all is well; what is wrong is wrong in any case.
    """
    alone = _standing_alone(channel, overview.now_ms)
    return Standing.UNCONFIRMED if alone is Standing.IN_RANGE and overview.troubles else alone


def standing_mark(judged: Standing, quantity: Quantity) -> Mark:
    """Shape, word and tone of a standing; a humidity is too dry or too humid, a temperature too cool or too warm."""
    if judged not in OUTSIDE:
        return _OTHER_MARKS[judged]
    shape, tone = OUTSIDE[judged]
    kinds = _OUTSIDE_KINDS if quantity.is_temperature else _OUTSIDE_HUMIDITY_KINDS
    return Mark(shape, WRONG[kinds[judged]], tone)


def water_settles(climate: ClimateNow, now_ms: int) -> bool:
    """Tell whether a surface is at the dew point or below, or not dry since; what is old or unknown says nothing."""
    fresh = not is_old(climate.measured_at_ms, climate.old_after_ms, now_ms)
    return fresh and climate.margin_k is not None and (climate.margin_k <= 0 or climate.stays_wet)


def is_old(measured_at_ms: int, old_after_ms: int, now_ms: int) -> bool:
    """Tell whether a reading no longer says how a place is now."""
    return now_ms - measured_at_ms > old_after_ms


def _standing_alone(channel: ChannelNow, now_ms: int) -> Standing:
    value = channel.value
    if value is None or channel.measured_at_ms is None:
        return Standing.NO_READING
    if channel.quality != Quality.GOOD:
        return Standing.SUSPECT
    if is_old(channel.measured_at_ms, channel.old_after_ms, now_ms):
        return Standing.OLD
    return _against_limits(channel, value)


def _against_limits(channel: ChannelNow, value: float) -> Standing:
    if channel.lethal_high is not None and value > channel.lethal_high:
        return Standing.LETHAL_HIGH
    if channel.lethal_low is not None and value < channel.lethal_low:
        return Standing.LETHAL_LOW
    if channel.high is not None and value > channel.high:
        return Standing.HIGH
    if channel.low is not None and value < channel.low:
        return Standing.LOW
    return Standing.NO_LIMITS if channel.low is None and channel.high is None else Standing.IN_RANGE


def suspicion(quality: int) -> str:
    """Why a reading is suspect; empty for a good one."""
    return "; ".join(words for flag, words in _FLAG_WORDS.items() if quality & flag)
