"""When the silence of a daemon is told, told again, answered and over. Pure.

The bound that this rests on: with a step at least every `TICK_S`, whoever watches is told at most
`silence_s + TICK_S` after the last moment at which the daemon was well. Moments are monotonic seconds, so that a
clock that is set cannot make or hide a silence; the time of day is kept for the words of a message alone.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple

TICK_S = 1.0
"""A step is made at least this often."""
HELD_S = 15.0
"""A longer pause between two steps was the watcher's own: it was held up, and heard nobody meanwhile."""
FIRST_LOOK_S = 60.0
"""So long after its own pause or restart the watcher tells nothing: first it has to hear how things are."""


class Moment(NamedTuple):
    """Now: `s` on the monotonic clock, `utc_ms` since the epoch."""

    s: float
    utc_ms: int


@dataclass(frozen=True, slots=True)
class Policy:
    """Seconds without a well answer until it is told, between two messages, well until it is over, an answer holds."""

    silence_s: float = 120.0
    repeat_s: float = 300.0
    back_after_s: float = 45.0
    answer_holds_s: float = 21_600.0


@dataclass(frozen=True, slots=True)
class Incident:
    """One silence. `ident` names it in messages; `token` is known only to those who got one, and lets them answer."""

    ident: str
    token: str
    began_ms: int
    told: int
    next_s: float
    answered_s: float | None = None
    who: str = ""
    well_since_s: float | None = None


@dataclass(frozen=True, slots=True)
class State:
    """All that is remembered. `well_s` is when the daemon was last well; `trouble` is why it is not, where known."""

    well_s: float
    seen_s: float
    trouble: str = ""
    incident: Incident | None = None


@dataclass(frozen=True, slots=True)
class Well:
    """The daemon says that every part of it is well."""


@dataclass(frozen=True, slots=True)
class NotWell:
    """It says that it is not, or there was no answer, or one of something else; `trouble` is a sentence."""

    trouble: str


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has passed."""


@dataclass(frozen=True, slots=True)
class PersonAnswers:
    """Somebody takes it on; `token` says which incident they mean."""

    token: str
    who: str


Event = Well | NotWell | Tick | PersonAnswers


class Fresh(NamedTuple):
    """What a new incident is called, chosen by the edge because chance is no matter of rules."""

    ident: str
    token: str


class Told(StrEnum):
    """What people are told."""

    SILENT = "silent"
    STILL = "still"
    TAKEN = "taken"
    BACK = "back"


@dataclass(frozen=True, slots=True)
class Tell:
    """Send this to everybody. `trouble` and `incident` are what the words are made of."""

    what: Told
    incident: Incident
    trouble: str


class Step(NamedTuple):
    """What follows: the new state, what to send, and why."""

    state: State
    effects: tuple[Tell, ...]
    reason: str


def begin(now: Moment) -> State:
    """Start without a memory: the silence counts from here."""
    return State(well_s=now.s, seen_s=now.s)


def step(policy: Policy, state: State, event: Event, now: Moment, fresh: Fresh) -> Step:
    """Take in one event. Each event also lets time pass, so that a flood of them holds nothing up."""
    state = replace(_without_own_pause(policy, state, now.s), seen_s=now.s)
    match event:
        case Well():
            return _well(policy, state, now)
        case NotWell(trouble):
            return _time_passes(policy, _not_well(state, trouble), now, fresh)
        case PersonAnswers():
            return _answered(state, event, now)
        case Tick():
            return _time_passes(policy, state, now, fresh)


def _without_own_pause(policy: Policy, state: State, now_s: float) -> State:
    """After a pause of its own the watcher knows nothing of the daemon in that time; it is no silence of the daemon."""
    if now_s - state.seen_s <= HELD_S:
        return state
    latest_s = now_s - max(0.0, policy.silence_s - FIRST_LOOK_S)
    well_s = min(now_s, max(state.well_s + (now_s - state.seen_s), latest_s))
    found = state.incident
    if found is not None:
        found = replace(found, next_s=max(found.next_s, now_s + min(FIRST_LOOK_S, policy.repeat_s)))
    return replace(state, well_s=well_s, incident=found)


def _well(policy: Policy, state: State, now: Moment) -> Step:
    found = state.incident
    if found is None:
        return Step(replace(state, well_s=now.s, trouble=""), (), "well")
    # A return that fell silent itself for too long was none.
    lasted = found.well_since_s is not None and now.s - state.well_s < policy.silence_s
    since_s = found.well_since_s if lasted and found.well_since_s is not None else now.s
    if now.s - since_s >= policy.back_after_s:
        over = replace(state, well_s=now.s, trouble="", incident=None)
        return Step(over, (Tell(Told.BACK, found, state.trouble),), f"well for {now.s - since_s:.0f} s, so it is over")
    returning = replace(state, well_s=now.s, incident=replace(found, well_since_s=since_s))
    return Step(returning, (), f"well again; over after {policy.back_after_s:g} s of it")


def _not_well(state: State, trouble: str) -> State:
    found = state.incident
    return replace(state, trouble=trouble, incident=None if found is None else replace(found, well_since_s=None))


def _time_passes(policy: Policy, state: State, now: Moment, fresh: Fresh) -> Step:
    silent_s = now.s - state.well_s
    found = state.incident
    if found is None:
        if silent_s < policy.silence_s:
            return Step(state, (), f"not well for {silent_s:.0f} s; told after {policy.silence_s:g} s")
        began_ms = now.utc_ms - round(silent_s * 1000)
        found = Incident(fresh.ident, fresh.token, began_ms, told=1, next_s=now.s + policy.repeat_s)
        return _tell(state, found, Told.SILENT, f"not well for {silent_s:.0f} s")
    if found.well_since_s is not None:
        if silent_s < policy.silence_s:
            return Step(state, (), "well again; waiting whether it lasts")
        found = replace(found, well_since_s=None)
    if found.answered_s is not None:
        if now.s - found.answered_s < policy.answer_holds_s:
            return Step(replace(state, incident=found), (), f"answered by {found.who}")
        found = replace(found, answered_s=None, who="", next_s=now.s)
    if now.s < found.next_s:
        return Step(replace(state, incident=found), (), f"told again in {found.next_s - now.s:.0f} s")
    again = replace(found, told=found.told + 1, next_s=now.s + policy.repeat_s)
    return _tell(state, again, Told.STILL, "nobody has answered")


def _answered(state: State, answer: PersonAnswers, now: Moment) -> Step:
    found = state.incident
    if found is None:
        return Step(state, (), "The watch is well: there is nothing to answer.")
    if found.token != answer.token:
        return Step(state, (), "That message was about an earlier silence. Use the link in the newest message.")
    if found.answered_s is not None:
        return Step(state, (), f"{found.who} has answered already.")
    taken = replace(found, answered_s=now.s, who=answer.who)
    return _tell(state, taken, Told.TAKEN, "Noted, and the others are told.")


def _tell(state: State, incident: Incident, what: Told, reason: str) -> Step:
    return Step(replace(state, incident=incident), (Tell(what, incident, state.trouble),), reason)
