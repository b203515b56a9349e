"""One incident, one message: which alarms people are told of together, and which call waits for others. Pure.

The first alarm is told at once. What comes within the next minute is gathered and told in one message; a critical alarm
waits only for the minute after another critical one. More than `FLOOD` incidents within ten minutes are a flood: one
incident with a list. The published figure for a flood, more than 10 alarms in 10 minutes (ISA-18.2, section 16.4), is
for the full-time operator of a plant; one or two people asleep get the smaller one.

Lethal limits are never told as part of another incident; several of them may share one message about lethal limits.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from config.words import Priority
from daemon.alarms.classes import MINUTE_MS
from daemon.alarms.folding import AlarmOn, Fold, fold

FLOOD = 3
FLOOD_SPAN_MS = 10 * MINUTE_MS
GATHER_MS = MINUTE_MS
GATHER_IN_FLOOD_MS = 5 * MINUTE_MS


@dataclass(frozen=True, slots=True)
class Incident:
    """Alarms that are told and acknowledged together. The leader gives the headline."""

    id: str
    opened_ms: int
    leader: str
    members: tuple[str, ...]
    is_lethal: bool = False
    is_flood: bool = False


@dataclass(frozen=True, slots=True)
class IncidentBook:
    """What is remembered of the incidents of a site. UTC ms."""

    incidents: tuple[Incident, ...] = ()
    waiting: tuple[str, ...] = ()
    """alarms that are gathered and not told yet"""
    called_ms: int | None = None
    called_critical_ms: int | None = None
    opened: tuple[int, ...] = ()
    """when the incidents of the last ten minutes were opened; merged ones count as what they were"""

    def holding(self, key: str) -> Incident | None:
        """Give the incident that an alarm belongs to."""
        return next((each for each in self.incidents if key in each.members), None)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What follows, by the ids of incidents.

    `announced` get one message for all of them together, and each its ladder from the first rung. `grown` have new
    members and no call of their own. `merged` ended in the one that stands beside them. `next_ms`: when to ask again.
    """

    book: IncidentBook
    announced: tuple[str, ...] = ()
    grown: tuple[str, ...] = ()
    merged: tuple[tuple[str, str], ...] = ()
    folds: Mapping[str, Fold] = field(default_factory=dict)
    next_ms: int | None = None
    reason: str = ""


def arrive(
    book: IncidentBook,
    new: Iterable[str],
    on: Mapping[str, AlarmOn],
    now_ms: int,
    calling: Mapping[str, Priority] = MappingProxyType({}),
) -> Outcome:
    """Take the alarms `new`: annunciated, or just suppressed as a consequence; `on` has these and all others on.

    A consequence becomes a member of its cause's incident, so that it is listed and acknowledged with it, and calls
    nobody. An alarm that is shelved, out of service or held back by people at work is not for here.
    `calling` are the ids of incidents that nobody has acknowledged, with the priority at which they call: what joins
    one of these needs no call of its own, unless it is the more urgent.
    All that came in one evaluation belongs into one call. Without `new` it releases what has waited long enough.
    """
    folds = fold(on.values())
    arrived = dict.fromkeys(key for key in (*book.waiting, *new) if key in on)
    book = replace(book, waiting=(), opened=tuple(each for each in book.opened if now_ms - each < FLOOD_SPAN_MS))
    sorted_ = _sort(book, arrived, folds, on, calling)
    asking = [on[key] for key in (*sorted_.again, *sorted_.fresh)]
    if not asking:
        return Outcome(sorted_.book, (), sorted_.grown, (), folds, None, "nothing new to tell")
    release_ms = _release_ms(book, asking, now_ms)
    if release_ms > now_ms:
        waiting = tuple(each.key for each in asking)
        reason = f"{len(waiting)} gathered for the next message"
        return Outcome(replace(sorted_.book, waiting=waiting), (), sorted_.grown, (), folds, release_ms, reason)
    return _open(sorted_, folds, on, now_ms, calling)


def leave(book: IncidentBook, key: str, on: Mapping[str, AlarmOn]) -> tuple[IncidentBook, str]:
    """Take out an alarm that is over, for good. Gives the id of the incident that ended with it, or an empty text."""
    book = replace(book, waiting=tuple(each for each in book.waiting if each != key))
    incident = book.holding(key)
    if incident is None:
        return book, ""
    members = tuple(each for each in incident.members if each != key)
    others = tuple(each for each in book.incidents if each is not incident)
    if not members:
        return replace(book, incidents=others), incident.id
    leader = incident.leader if incident.leader != key else _leader(members, on)
    smaller = replace(incident, members=members, leader=leader)
    return replace(book, incidents=tuple(smaller if each is incident else each for each in book.incidents)), ""


def keep(book: IncidentBook, key: str, now_ms: int, *, is_lethal: bool) -> tuple[IncidentBook, str]:
    """Open an incident without a call for an alarm that was over before anybody was told. Gives its id."""
    book = replace(book, waiting=tuple(each for each in book.waiting if each != key))
    incident = Incident(f"{key}@{now_ms}", now_ms, key, (key,), is_lethal)
    return replace(book, incidents=(*book.incidents, incident)), incident.id


def renamed(book: IncidentBook, incident_id: str, to: str) -> IncidentBook:
    """Give an incident the id of one that ended in it: by that, messages on their way are known."""
    incidents = (replace(each, id=to) if each.id == incident_id else each for each in book.incidents)
    return replace(book, incidents=tuple(incidents))


def priority_of(incident: Incident, on: Mapping[str, AlarmOn]) -> Priority:
    """Give the priority of the most urgent member that is on; the lowest where none is."""
    return min((on[key].priority for key in incident.members if key in on), default=Priority.LOW)


@dataclass(frozen=True, slots=True)
class _Sorted:
    """Alarms by what they need: a call of the incident that holds them, or an incident of their own."""

    book: IncidentBook
    again: dict[str, str]
    """alarm to incident"""
    fresh: tuple[str, ...]
    grown: tuple[str, ...]


def _sort(
    book: IncidentBook,
    arrived: Iterable[str],
    folds: Mapping[str, Fold],
    on: Mapping[str, AlarmOn],
    calling: Mapping[str, Priority],
) -> _Sorted:
    again: dict[str, str] = {}
    fresh: list[str] = []
    grown: list[str] = []
    for key in arrived:
        found = folds.get(key)
        incident = book.holding(key) or (book.holding(found.root) if found else None)
        if incident is None:
            fresh.append(key)
            continue
        is_member = key in incident.members
        book = _grow(book, incident, (key,))
        shares = found is not None and found.mode is None
        unheard = incident.id not in calling or on[key].priority < calling[incident.id]
        if is_member or (shares and unheard):
            again[key] = incident.id
        else:
            grown.append(incident.id)
    return _Sorted(book, again, tuple(fresh), tuple(dict.fromkeys(grown)))


def _release_ms(book: IncidentBook, alarms: Iterable[AlarmOn], now_ms: int) -> int:
    """Give the moment from which these alarms may be told."""
    gather_ms = GATHER_IN_FLOOD_MS if len(book.opened) > FLOOD else GATHER_MS
    any_ms = now_ms if book.called_ms is None else book.called_ms + gather_ms
    if not any(each.priority is Priority.CRITICAL for each in alarms):
        return any_ms
    critical_ms = now_ms if book.called_critical_ms is None else book.called_critical_ms + GATHER_MS
    return min(any_ms, critical_ms)


def _open(
    asked: _Sorted, folds: Mapping[str, Fold], on: Mapping[str, AlarmOn], now_ms: int, calling: Mapping[str, Priority]
) -> Outcome:
    book, groups = asked.book, _groups(asked.fresh, folds)
    is_flood = len(book.opened) + len(groups) > FLOOD
    announced = list(asked.again.values())
    merged: list[tuple[str, str]] = []
    for keys in _parts(groups, on, is_flood=is_flood):
        book, incident = _opened(book, keys, on, now_ms, is_flood=is_flood)
        book, ended = _absorb(book, incident, folds, now_ms, calling)
        announced.append(incident.id)
        merged += [(each, incident.id) for each in ended]
    critical = any(on[key].priority is Priority.CRITICAL for key in (*asked.again, *asked.fresh))
    opened = (*book.opened, *(now_ms for _ in groups))
    critical_ms = now_ms if critical else book.called_critical_ms
    book = replace(book, called_ms=now_ms, called_critical_ms=critical_ms, opened=opened)
    reason = f"a flood: {len(groups)} more, told as one list" if is_flood and groups else "told now"
    ids = tuple(each for each in dict.fromkeys(announced) if each not in {ended for ended, _ in merged})
    grown = tuple(each for each in asked.grown if each not in ids)
    return Outcome(book, ids, grown, tuple(merged), folds, None, reason)


def _groups(keys: Iterable[str], folds: Mapping[str, Fold]) -> dict[str, tuple[str, ...]]:
    """Group alarms under their root, the root first."""
    groups: dict[str, tuple[str, ...]] = {}
    for key in keys:
        root = folds[key].root if key in folds else key
        head = (root,) if root == key else ()
        groups[root] = (*head, *groups.get(root, ()), *(() if head else (key,)))
    return groups


def _parts(
    groups: Mapping[str, tuple[str, ...]], on: Mapping[str, AlarmOn], *, is_flood: bool
) -> list[tuple[str, ...]]:
    """Give the alarms of each incident that is to be opened; a flood is one of lethal limits, and one of all else."""
    if not is_flood:
        return list(groups.values())
    parts = [
        tuple(key for root, group in groups.items() if on[root].role.is_lethal is is_lethal for key in group)
        for is_lethal in (True, False)
    ]
    return [each for each in parts if each]


def _opened(
    book: IncidentBook, keys: tuple[str, ...], on: Mapping[str, AlarmOn], now_ms: int, *, is_flood: bool
) -> tuple[IncidentBook, Incident]:
    """Open an incident; further alarms of a flood that has just begun go into it."""
    leader = _leader(keys, on) if is_flood else keys[0]
    is_lethal = on[leader].role.is_lethal
    for each in book.incidents:
        if is_flood and each.is_flood and each.is_lethal is is_lethal and now_ms - each.opened_ms < FLOOD_SPAN_MS:
            return _grow(book, each, keys), each
    incident = Incident(f"{leader}@{now_ms}", now_ms, leader, keys, is_lethal, is_flood)
    return replace(book, incidents=(*book.incidents, incident)), incident


def _absorb(
    book: IncidentBook, into: Incident, folds: Mapping[str, Fold], now_ms: int, calling: Mapping[str, Priority]
) -> tuple[IncidentBook, tuple[str, ...]]:
    """Merge the incidents that belong into this one: what it explains, and in a flood what was called just before."""
    ended: list[Incident] = []
    for other in book.incidents:
        explained = other.leader in folds and folds[other.leader].root == into.leader
        recent = into.is_flood and other.id in calling and now_ms - other.opened_ms < FLOOD_SPAN_MS
        if other.id != into.id and (explained or (recent and other.is_lethal is into.is_lethal)):
            ended.append(other)
    kept = replace(book, incidents=tuple(each for each in book.incidents if each not in ended))
    found = next(each for each in kept.incidents if each.id == into.id)
    kept = _grow(kept, found, (key for each in ended for key in each.members))
    return kept, tuple(each.id for each in ended)


def _grow(book: IncidentBook, incident: Incident, keys: Iterable[str]) -> IncidentBook:
    larger = replace(incident, members=tuple(dict.fromkeys((*incident.members, *keys))))
    return replace(book, incidents=tuple(larger if each.id == incident.id else each for each in book.incidents))


def _leader(keys: Iterable[str], on: Mapping[str, AlarmOn]) -> str:
    """Choose the most urgent, then the oldest; what is over comes last."""

    def order(key: str) -> tuple[int, int, str]:
        alarm = on.get(key)
        return (int(alarm.priority), alarm.since_ms, key) if alarm else (len(Priority) + 1, 0, key)

    return min(keys, key=order)
