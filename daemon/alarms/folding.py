"""Which alarm is the consequence of which: one incident, one message. Pure.

Suppression by design (ISA-18.2) holds back the consequences while their cause is on, and never the alarm that names the
cause. A lethal limit is the consequence of nothing. An alarm that may not be suppressed, or that is more urgent than
its cause, shares the cause's message and stays unacknowledged in its own right.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from config.words import Priority
from daemon.alarms.classes import MINUTE_MS, Mode

LEAD_MS = 10 * MINUTE_MS
"""A consequence may be noticed this long before its cause; what is older has another cause."""


class Role(StrEnum):
    """What an alarm is within an incident."""

    LETHAL_HIGH = "lethal high"
    LETHAL_LOW = "lethal low"
    HIGH = "high temperature"
    LOW = "low temperature"
    FALLING = "falling fast"
    RISING = "rising fast"
    AHEAD_HIGH = "heading for a high limit"
    AHEAD_LETHAL = "heading for a lethal limit"
    AHEAD_LOW = "heading for a low limit"
    HUMIDITY = "humidity"
    CONDENSATION = "condensation"
    NO_DATA = "no data"
    NO_DATA_LONG = "no data for long"
    PROBE_FAULT = "probe fault"
    PROBES_DISAGREE = "probes disagree"
    DOOR_OPEN = "door open"
    MAINS_LOST = "mains lost"
    BROKER_LOST = "broker lost"
    SITE_SILENT = "all probes silent"
    LAST_PROBE = "nothing in there is heard"
    OTHER = "other"

    @property
    def is_lethal(self) -> bool:
        """True for the limits beyond which eggs die."""
        return self in (Role.LETHAL_HIGH, Role.LETHAL_LOW)


@dataclass(frozen=True, slots=True)
class AlarmOn:
    """One alarm that is not normal, as far as incidents need it. Empty `incubator`: it is about the whole site.

    `suppressible_by` is that of its class. `silenced`: shelved, out of service, or back in range and kept until
    somebody acknowledges or resets it; so it can be the cause of no other.
    """

    key: str
    role: Role
    priority: Priority
    since_ms: int
    incubator: str = ""
    place: str = ""
    probe: str = ""
    suppressible_by: frozenset[Mode] = frozenset()
    silenced: bool = False


@dataclass(frozen=True, slots=True)
class Fold:
    """An alarm is a consequence of `root`. `mode` suppresses it by design; None lets it share the message only."""

    key: str
    root: str
    mode: Mode | None
    reason: str


class _Scope(StrEnum):
    AREA = "area"
    """the site, or the incubator of the cause"""
    PLACE = "place"
    """the place of the cause, and what lies in it"""
    PROBE = "probe"


_SILENT = frozenset({Role.NO_DATA, Role.NO_DATA_LONG})
_POWER = _SILENT | {Role.SITE_SILENT, Role.BROKER_LOST, Role.LAST_PROBE}
_COOLING = frozenset({Role.LOW, Role.FALLING, Role.AHEAD_LOW, Role.HUMIDITY, Role.CONDENSATION})
# The further up, the closer to the root: of several causes the first is taken.
_CAUSES: Mapping[Role, tuple[_Scope, frozenset[Role]]] = MappingProxyType(
    {
        Role.MAINS_LOST: (_Scope.AREA, _POWER | _COOLING),
        Role.BROKER_LOST: (_Scope.AREA, _SILENT | {Role.SITE_SILENT, Role.LAST_PROBE}),
        Role.SITE_SILENT: (_Scope.AREA, _SILENT | {Role.LAST_PROBE}),
        Role.LAST_PROBE: (_Scope.AREA, _SILENT),
        Role.PROBE_FAULT: (_Scope.PROBE, _SILENT | {Role.PROBES_DISAGREE}),
        Role.NO_DATA_LONG: (_Scope.PROBE, frozenset({Role.NO_DATA})),
        Role.DOOR_OPEN: (_Scope.AREA, frozenset({Role.LOW, Role.FALLING, Role.AHEAD_LOW, Role.HUMIDITY})),
        Role.LETHAL_HIGH: (_Scope.PLACE, frozenset({Role.HIGH, Role.RISING, Role.AHEAD_HIGH, Role.AHEAD_LETHAL})),
        Role.LETHAL_LOW: (_Scope.PLACE, frozenset({Role.LOW, Role.FALLING, Role.AHEAD_LOW, Role.AHEAD_LETHAL})),
        # The milder step of an excursion is enough reason for what only tells that it goes that way. That a lethal
        # limit is near is news, also where somebody has acknowledged that it is too warm.
        Role.HIGH: (_Scope.PLACE, frozenset({Role.RISING, Role.AHEAD_HIGH})),
        Role.LOW: (_Scope.PLACE, frozenset({Role.FALLING, Role.AHEAD_LOW})),
    }
)
_RANK = {role: rank for rank, role in enumerate(_CAUSES)}


def fold(alarms: Iterable[AlarmOn]) -> dict[str, Fold]:
    """Find, for each alarm that is a consequence, the alarm at the root of it."""
    on = {each.key: each for each in alarms}
    causes = sorted((each for each in on.values() if each.role in _RANK), key=lambda each: (_RANK[each.role], each.key))
    direct: dict[str, AlarmOn] = {}
    for alarm in on.values():
        found = next((each for each in causes if explains(each, alarm)), None)
        if found is not None:
            direct[alarm.key] = found
    folds: dict[str, Fold] = {}
    for key, cause in direct.items():
        root = cause
        while root.key in direct:
            root = direct[root.key]
        folds[key] = _fold(on[key], root)
    return folds


def explains(cause: AlarmOn, alarm: AlarmOn) -> bool:
    """Tell whether one alarm is reason enough for another."""
    scope, roles = _CAUSES.get(cause.role, (_Scope.AREA, frozenset()))
    if cause.key == alarm.key or cause.silenced or alarm.role not in roles:
        return False
    if scope is _Scope.PLACE:
        # the milder step of the same excursion, however long it has been on, there and in the boxes of a zone
        return alarm.place == cause.place or alarm.place.startswith(f"{cause.place}/")
    if alarm.since_ms < cause.since_ms - LEAD_MS:
        return False
    if scope is _Scope.PROBE:
        return bool(cause.probe) and cause.probe == alarm.probe
    return not cause.incubator or cause.incubator == alarm.incubator


def _fold(alarm: AlarmOn, root: AlarmOn) -> Fold:
    if root.role is Role.NO_DATA_LONG:
        # the same silence, only longer: one message, and both are over at the same moment
        return Fold(alarm.key, root.key, None, "is the same silence, which has lasted for long")
    mode = Mode.WORSE if root.role.is_lethal else Mode.CAUSE
    if alarm.priority < root.priority:
        return Fold(alarm.key, root.key, None, f"follows from {root.role}, and is the more urgent of the two")
    if mode not in alarm.suppressible_by:
        return Fold(alarm.key, root.key, None, f"follows from {root.role}, and is never suppressed")
    return Fold(alarm.key, root.key, mode, f"follows from {root.role}")


@dataclass(frozen=True, slots=True)
class Heard:
    """When a probe was heard last (UTC ms; None: never) and how long it may be silent."""

    newest_ms: int | None
    window_ms: int


def silent_together_since(probes: Sequence[Heard], now_ms: int) -> int | None:
    """Tell since when all probes of a site have been silent, where they fell silent together; None otherwise.

    Probes that are far from each other share only mains, network and broker: that all of them stop within the longest
    of their windows points to one of these. A single probe points to nothing.
    """
    known = [(each.newest_ms, each.window_ms) for each in probes if each.newest_ms is not None]
    if len(known) < 2 or len(known) < len(probes):  # noqa: PLR2004 - together takes two
        return None
    if any(now_ms - newest_ms < window_ms for newest_ms, window_ms in known):
        return None
    last_ms = [newest_ms for newest_ms, _ in known]
    longest_ms = max(window_ms for _, window_ms in known)
    return max(last_ms) if max(last_ms) - min(last_ms) <= longest_ms else None
