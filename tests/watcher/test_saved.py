"""What the watcher remembers over a restart."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.watcher.rules import Fresh, Incident, Moment, Policy, State, Tick, Told, begin, step
from daemon.watcher.saved import UnreadableError, from_text, to_text
from tests.alarms.messages import message

POLICY = Policy()
OPEN = Incident("ident", "token", 1_780_000_000_000, told=2, next_s=1_200.0)
ANSWERED = replace(OPEN, answered_s=1_000.0, who="Ana")
FRESH = Fresh("new", "new")


def restarted(state: State, before_s: float, after_s: float) -> State:
    return from_text(to_text(state, {}, before_s), POLICY, Moment(after_s, 0))[0]


@given(
    before_s=st.floats(1_000.0, 5_000.0),
    after_s=st.floats(0.0, 1e7),
    incident=st.sampled_from([OPEN, ANSWERED]),
)
def test_a_restart_forgets_nothing_and_repeats_nothing_at_once(
    before_s: float, after_s: float, incident: Incident
) -> None:
    state = restarted(State(900.0, before_s, "no answer", incident), before_s, after_s)
    assert state.incident is not None
    assert (state.incident.token, state.incident.who, state.incident.told) == ("token", incident.who, 2)
    assert state.trouble == "no answer"
    for span_s in (0.0, 1.0, 10.0):
        state, effects, _ = step(POLICY, state, Tick(), Moment(after_s + span_s, 0), FRESH)
        assert effects == () or before_s - 1_000.0 >= POLICY.answer_holds_s


def test_an_open_silence_goes_on_being_told_after_a_restart_within_the_usual_span() -> None:
    state = restarted(State(900.0, 1_150.0, "no answer", OPEN), 1_150.0, 7.0)
    told = []
    for second in range(1, int(POLICY.repeat_s) + 1):
        state, effects, _ = step(POLICY, state, Tick(), Moment(7.0 + second, 0), FRESH)
        told += [effect.what for effect in effects]
    assert told == [Told.STILL]


def test_a_silence_that_had_begun_is_not_counted_anew_but_nothing_is_told_before_a_first_look() -> None:
    state = restarted(State(1_000.0, 1_100.0), 1_100.0, 7.0)
    assert 7.0 - state.well_s == POLICY.silence_s - 60
    assert restarted(State(1_095.0, 1_100.0), 1_100.0, 7.0).well_s == pytest.approx(2.0)


def test_messages_that_nobody_accepted_are_kept() -> None:
    unsent = {"ana/0": message()}
    state, kept = from_text(to_text(begin(Moment(5.0, 0)), unsent, 5.0), POLICY, Moment(1.0, 0))
    assert state.incident is None
    assert kept == unsent


@pytest.mark.parametrize(
    "text",
    [
        "",
        "null",
        "[]",
        "{}",
        '{"format": "something-else"}',
        '{"format": "clutchwarden-watch-1"}',
        to_text(State(1.0, 1.0, "", OPEN), {}, 1.0).replace('"token"', '"t0ken"'),
        to_text(State(1.0, 1.0, "", OPEN), {}, 1.0)[:-9],
    ],
)
def test_a_memory_that_cannot_be_read_is_refused_without_its_content(text: str) -> None:
    with pytest.raises(UnreadableError) as refused:
        from_text(text, POLICY, Moment(0.0, 0))
    assert "t0ken" not in str(refused.value)


def test_the_text_is_json_with_a_format() -> None:
    assert json.loads(to_text(State(1.0, 1.0, "", OPEN), {}, 1.0))["format"] == "clutchwarden-watch-1"
