"""The alarm desk: all alarms of a site as people deal with them, who is called, and what people did. Pure.

Conditions that begin and end come in as transitions; time and people come in as calls of the methods. The rules are
those of `daemon/alarms`: the state machine of each alarm, what follows from what, one call for one incident, and the
ladder that goes on until somebody acknowledges. Times are UTC ms.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from config.words import AlarmKind, Priority
from daemon.alarm_desk_calls import for_people, told_of
from daemon.alarm_desk_ladders import arrived, climb, paced
from daemon.alarm_desk_values import SILENCES, Entry, Outcome, Told, is_to_be_told, key_of
from daemon.alarm_transition import Transition
from daemon.alarms.classes import HOUR_MS, MINUTE_MS, Mode
from daemon.alarms.conditions import Change
from daemon.alarms.events import (
    Annunciate,
    ClockStepped,
    ConditionOff,
    ConditionOn,
    DataBack,
    DataLost,
    Effect,
    Event,
    Ladder,
    Pace,
    Record,
    SuppressOff,
    SuppressOn,
    Tell,
    TimePassed,
    Why,
)
from daemon.alarms.folding import AlarmOn, fold
from daemon.alarms.incident import IncidentBook, arrive, keep, leave
from daemon.alarms.ladder import LadderPace, LadderState, cannot, shifted
from daemon.alarms.ladder_changes import heard_only_the_end, reminding
from daemon.alarms.people import Rota
from daemon.alarms.round_suppression import Round, suppression, suppression_at_begin
from daemon.alarms.state_values import AlarmMemory, AlarmState
from daemon.alarms.states import next_due_ms, step

FOLD_MS = 12 * HOUR_MS
SETTLE_MS = 5 * MINUTE_MS
"""A consequence is told so long after its cause has ended, if it is still on then."""


class Desk:
    """Remembers; `entries`, `book` and `ladders` are what has to survive a restart.

    `rounds` are those that may hold back an alarm that begins now: whoever lets time pass at the desk sets them first.
    """

    def __init__(
        self,
        rota: Rota,
        entries: Mapping[str, Entry] | None = None,
        book: IncidentBook | None = None,
        ladders: Mapping[str, LadderState] | None = None,
    ) -> None:
        self._rota = rota
        self.entries = dict(entries or {})
        self.book = book or IncidentBook()
        self.ladders = dict(ladders or {})
        self.rounds: tuple[Round, ...] = ()
        self._effects: list[tuple[str, Effect]] = []
        self._caught: list[str] = []

    def take(self, transitions: Iterable[Transition], now_ms: int) -> Outcome:
        """Conditions that began or ended, in the order in which they did; then the time up to now."""
        for transition in (each for each in transitions if not each.late):
            self._hear(transition, now_ms)
            if transition.change is Change.RAISED and is_to_be_told(transition, self.entries):
                self._begin(transition, now_ms)
            elif transition.change is Change.CLEARED and key_of(transition) in self.entries:
                self._end(transition, now_ms)
        for key, entry in sorted(self.entries.items(), key=_name):
            due_ms = next_due_ms(entry.state, entry.alarm)
            if due_ms is not None and due_ms <= now_ms:
                self.apply(key, TimePassed(), now_ms)
        return self.settle(now_ms)

    def clock_was_set(self, by_ms: int, now_ms: int) -> None:
        """The wall clock was set: what was ahead is as far ahead as before."""
        for key in sorted(self.entries):
            self.apply(key, ClockStepped(by_ms), now_ms)
        self.ladders = {name: shifted(ladder, by_ms) for name, ladder in self.ladders.items()}
        called, critical = self.book.called_ms, self.book.called_critical_ms
        self.book = replace(
            self.book,
            called_ms=None if called is None else called + by_ms,
            called_critical_ms=None if critical is None else critical + by_ms,
            opened=tuple(each + by_ms for each in self.book.opened),
        )

    def apply(self, key: str, event: Event, now_ms: int) -> str:
        """One event for one alarm; gives the reason. `settle` has to follow before anything is stored."""
        entry = self.entries[key]
        after = step(entry.state, event, now_ms, entry.alarm)
        self.entries[key] = replace(entry, state=after.state)
        self._effects += [(key, for_people(effect, after.state)) for effect in after.effects]
        return after.reason

    def wish(self, key: str, event: Event, now_ms: int) -> tuple[bool, str]:
        """What a person wants: whether it was done, and why or why not."""
        before = len(self._effects)
        reason = self.apply(key, event, now_ms)
        records = [each for _, each in self._effects[before:] if isinstance(each, Record) and each.who]
        return all(each.accepted for each in records) and bool(records), reason

    def round_changed(self, round_: Round, now_ms: int) -> list[str]:
        """A round has begun or ended: what it holds back of the alarms here. Gives their names."""
        held: list[str] = []
        for key, entry in sorted(self.entries.items(), key=_name):
            event = suppression(round_, entry.role, _incubator(entry.raised))
            if event is not None:
                self.apply(key, event, now_ms)
                held.append(key)
        return held

    def cannot(self, key: str, person: str, now_ms: int) -> tuple[bool, str]:
        """A person who was called cannot go. `settle` then calls whoever is next; nothing is acknowledged."""
        state, incident = self.entries[key].state, self.book.holding(key)
        ladder = self.ladders.get(incident.id) if incident is not None else None
        if incident is None or ladder is None or ladder.pace is not LadderPace.CALL:
            return False, "nobody is being called for this alarm any more"
        if person in ladder.cannot:
            return False, "that is known already"
        self.ladders[incident.id] = cannot(ladder, person, self._rota, now_ms)
        reason = f"{person} cannot go; whoever is next is called"
        record = Record("", "cannot go", state.memory, state.memory, state.shown, person, reason, False, True, now_ms)
        self._effects.append((key, record))
        return True, reason

    def _hear(self, transition: Transition, now_ms: int) -> None:
        """What a silence means for the other alarms of its channel: unknown, not normal."""
        if transition.kind is not AlarmKind.NO_DATA:
            return
        event: Event = DataLost() if transition.change is Change.RAISED else DataBack()
        for key, entry in sorted(self.entries.items(), key=_name):
            same = entry.raised.channel is not None and entry.raised.channel == transition.channel
            if same and entry.raised.kind not in SILENCES:
                self.apply(key, event, now_ms)

    def _begin(self, transition: Transition, now_ms: int) -> None:
        key = key_of(transition)
        state = self.entries[key].state if key in self.entries else AlarmState()
        self.entries[key] = Entry(state, transition)
        self._hold_back(key, now_ms)
        folds = fold({**self._on(), key: self._as_on(key, silenced=False)}.values())
        found = folds.get(key)
        if found is not None and found.mode is not None:
            self.apply(key, SuppressOn(found.mode, found.root, now_ms + FOLD_MS, SETTLE_MS), now_ms)
            self._caught.append(key)
        self.apply(key, ConditionOn(transition.occurrence, transition.since_ms), now_ms)

    def _hold_back(self, key: str, now_ms: int) -> None:
        """Suppress an alarm that begins while its incubator is open on purpose, unless that has happened already."""
        entry = self.entries[key]
        known = {each.name for each in entry.state.design if each.mode is Mode.ROUND}
        for round_ in (each for each in self.rounds if each.id not in known):
            role, incubator = entry.role, _incubator(entry.raised)
            for event in suppression_at_begin(round_, role, incubator, now_ms):
                self.apply(key, event, now_ms)

    def _end(self, transition: Transition, now_ms: int) -> None:
        key = key_of(transition)
        before = self.entries[key].state
        if not before.known:
            self.apply(key, DataBack(), now_ms)
        self.apply(key, ConditionOff(), now_ms)
        unseen = before.memory is AlarmMemory.UNACKNOWLEDGED and not before.is_suppressed
        if unseen and not self.entries[key].alarm.acknowledged_on_return:
            # Of the lowest priority nobody has to acknowledge, but whoever was called hears that it is over.
            self._effects.append((key, Tell(Why.CLEARED, before.occurrence, before.version, now_ms)))

    def _on(self) -> dict[str, AlarmOn]:
        """All that is not normal, as incidents need it."""
        return {
            key: self._as_on(key, silenced=not entry.state.in_alarm)
            for key, entry in sorted(self.entries.items(), key=_name)
            if entry.state.memory is not AlarmMemory.NORMAL or entry.state.in_alarm
        }

    def _as_on(self, key: str, *, silenced: bool) -> AlarmOn:
        entry = self.entries[key]
        state, raised = entry.state, entry.raised
        return AlarmOn(
            key,
            entry.role,
            entry.alarm.priority,
            raised.since_ms if state.since_ms is None else state.since_ms,
            _incubator(raised),
            raised.place,
            raised.channel.probe if raised.channel else "",
            entry.alarm.suppressible_by,
            silenced=silenced or state.shelf is not None or state.out is not None,
        )

    def settle(self, now_ms: int) -> Outcome:
        """Fold consequences, open incidents, climb ladders. Gives all that follows from the events since the last."""
        self._refold(now_ms)
        outcome = Outcome(records=[(key, each) for key, each in self._effects if isinstance(each, Record)])
        outcome.told = [told for key, each in self._effects if isinstance(each, Tell) for told in self._tell(key, each)]
        for key, each in self._effects:
            if isinstance(each, Ladder):
                self._pace(key, each.pace, now_ms, outcome)
        called = [key for key, each in self._effects if isinstance(each, Annunciate)]
        self._effects = []
        # Where its cause is all that changed, a member of an incident is no reason to call anybody.
        caught = [key for key in self._caught if self.book.holding(key) is None]
        self._caught = []
        self._keep_untold([*called, *self.book.waiting], now_ms, outcome)
        self._announce([*called, *caught], now_ms, outcome)
        self._drop_what_is_over(outcome)
        self.ladders, outcome.calls = climb(self.book.incidents, self.ladders, self.entries, self._rota, now_ms)
        return outcome

    def _refold(self, now_ms: int) -> None:
        folds = fold(self._on().values())
        for key, entry in sorted(self.entries.items(), key=_name):
            found = folds.get(key)
            held = {each.name: each for each in entry.state.design if each.mode in (Mode.CAUSE, Mode.WORSE)}
            for name, each in held.items():
                if each.settling_until_ms is None and (found is None or found.root != name):
                    self.apply(key, SuppressOff(each.mode, name), now_ms)
            if found is not None and found.mode is not None and entry.state.in_alarm and found.root not in held:
                self.apply(key, SuppressOn(found.mode, found.root, now_ms + FOLD_MS, SETTLE_MS), now_ms)
                self._caught.append(key)

    def _keep_untold(self, keys: Iterable[str], now_ms: int, outcome: Outcome) -> None:
        """What was over before anybody was called is told as over, and reminded of until somebody acknowledges."""
        for key in dict.fromkeys(keys):
            entry = self.entries.get(key)
            if entry is None or entry.state.in_alarm:
                continue
            self.book = replace(self.book, waiting=tuple(each for each in self.book.waiting if each != key))
            if not entry.state.memory.waits_for_a_person or entry.state.is_suppressed:
                continue
            incident = self.book.holding(key)
            if incident is None:
                self.book, name = keep(self.book, key, now_ms, is_lethal=entry.role.is_lethal)
            else:
                name = incident.id
            if name not in self.ladders or self.ladders[name].pace is LadderPace.STOPPED:
                heard = tuple(dict.fromkeys(each.person for each in outcome.told if each.key == key))
                self.ladders[name] = reminding(entry.alarm.priority, now_ms, heard)

    def _announce(self, keys: Iterable[str], now_ms: int, outcome: Outcome) -> None:
        on = self._on()
        new = [key for key in dict.fromkeys(keys) if key in on and self.entries[key].state.in_alarm]
        calling = {name: each.priority for name, each in self.ladders.items() if each.pace is LadderPace.CALL}
        after = arrive(self.book, new, on, now_ms, calling)
        found = arrived(self.book, after, self.ladders, self.entries, on, now_ms)
        self.book, self.ladders = found.book, found.ladders
        outcome.pointless += found.pointless

    def _pace(self, key: str, pace: Pace, now_ms: int, outcome: Outcome) -> None:
        incident = self.book.holding(key)
        if incident is None or incident.id not in self.ladders:
            return
        ladder = paced(self.ladders[incident.id], pace, key, incident, self.entries, now_ms)
        if ladder is not None:
            self.ladders[incident.id] = ladder
            outcome.pointless.append(incident.id)

    def _tell(self, key: str, effect: Tell) -> list[Told]:
        if effect.why is Why.FOUND_AFTERWARDS:
            return []  # one message tells of all that an outage has brought to light
        incident = self.book.holding(key)
        ladder = self.ladders.get(incident.id) if incident is not None else None
        if effect.why is Why.CLEARED and ladder is not None and not ladder.told:
            return []  # quiet hours held the call, so nobody has heard of it
        if effect.why is Why.RETURNED and ladder is not None and heard_only_the_end(ladder):
            return []  # it came back and went again before anybody was called, so this is what they know
        called = () if ladder is None else ladder.told
        return told_of(key, effect, called, self._rota, every=self.entries[key].alarm.priority is Priority.CRITICAL)

    def _drop_what_is_over(self, outcome: Outcome) -> None:
        on = self._on()
        for key in sorted(key for key, entry in self.entries.items() if entry.is_over):
            self.book, ended = leave(self.book, key, on)
            outcome.closed[key] = self.entries.pop(key)
            if ended:
                self.ladders.pop(ended, None)
                outcome.pointless.append(ended)


def _name(named: tuple[str, Entry]) -> str:
    """One order, whatever was stored when: a restart must not change what comes first."""
    return named[0]


def _incubator(raised: Transition) -> str:
    return raised.place.split("/", 1)[0]
