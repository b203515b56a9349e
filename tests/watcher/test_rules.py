"""The rules of the watcher, with every moment given: the bound, the repetition, the answer, the return."""

from dataclasses import dataclass, field, replace
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import SecretStr, ValidationError

from config.watch import LATEST_S, Poll, Sending, Speaking
from daemon.watcher.rules import (
    FIRST_LOOK_S,
    HELD_S,
    TICK_S,
    Event,
    Fresh,
    Moment,
    NotWell,
    PersonAnswers,
    Policy,
    State,
    Tell,
    Tick,
    Told,
    Well,
    begin,
    step,
)

DEFAULT = Policy()
START_S, START_MS = 5_000.0, 1_780_000_000_000


@dataclass
class Run:
    """Feeds events to the rules on a monotonic clock of its own; the time of day may be anything."""

    policy: Policy = DEFAULT
    now_s: float = START_S
    utc_ms: int = START_MS
    told: list[tuple[float, Tell]] = field(default_factory=list)
    reason: str = ""

    def __post_init__(self) -> None:
        self.state: State = begin(Moment(self.now_s, self.utc_ms))

    def take(self, event: Event) -> None:
        fresh = Fresh(f"ident-{len(self.told)}", f"token-{len(self.told)}")
        self.state, effects, self.reason = step(self.policy, self.state, event, Moment(self.now_s, self.utc_ms), fresh)
        self.told += [(self.now_s, effect) for effect in effects]

    def wait(self, seconds: float, event: Event | None = None, every_s: float = 30.0) -> None:
        """Tick once a second; with an event also that, every so often."""
        until_s, next_s = self.now_s + seconds, self.now_s + every_s
        while self.now_s + TICK_S <= until_s:
            self.now_s += TICK_S
            self.utc_ms += round(TICK_S * 1000)
            self.take(Tick())
            if event is not None and self.now_s >= next_s:
                self.take(event)
                next_s += every_s

    @property
    def words(self) -> list[Told]:
        return [tell.what for _, tell in self.told]

    @property
    def token(self) -> str:
        assert self.state.incident is not None
        return self.state.incident.token


def silent() -> Run:
    run = Run()
    run.take(Well())
    run.wait(DEFAULT.silence_s + TICK_S)
    assert run.words == [Told.SILENT]
    return run


def test_the_default_settings_tell_within_150_seconds_with_one_slow_attempt_to_send() -> None:
    stated = Speaking()
    assert Policy(stated.silence_s, stated.repeat_s, stated.back_after_s, stated.answer_holds_h * 3600) == DEFAULT
    assert stated.silence_s + TICK_S + 2 * Sending().timeout_s <= LATEST_S == 150
    with pytest.raises(ValidationError):
        Speaking(silence_s=stated.silence_s + 1)
    poll = Poll(url=SecretStr("http://daemon.example/health"))
    assert poll.every_s + 2 * poll.timeout_s < stated.silence_s  # one late answer is no alarm


@settings(max_examples=200, deadline=None)
@given(seed=st.integers(0, 2**32), jump_ms=st.integers(-(10**11), 10**11))
def test_after_the_last_well_answer_everybody_is_told_within_the_bound_whatever_comes_and_whatever_the_clock_says(
    seed: int, jump_ms: int
) -> None:
    chance, run = Random(seed), Run()
    nothing_well: list[Event] = [Tick(), Tick(), NotWell("no answer"), NotWell("It is starting.")]
    run.take(Well())
    last_s = run.now_s
    while run.now_s - last_s < DEFAULT.silence_s + 2 * TICK_S:
        run.now_s += chance.uniform(0.1, TICK_S)
        run.utc_ms += jump_ms
        run.take(chance.choice(nothing_well))
        assert bool(run.told) is (run.now_s - last_s >= DEFAULT.silence_s)
    assert run.words == [Told.SILENT]
    assert DEFAULT.silence_s <= run.told[0][0] - last_s <= DEFAULT.silence_s + TICK_S


EVENTS = st.one_of(
    st.just(Tick()),
    st.just(Well()),
    st.just(NotWell("The broker is not connected.")),
    st.builds(PersonAnswers, st.sampled_from(["open", "old"]), st.sampled_from(["Ana", "Ben"])),
)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, HELD_S), EVENTS), max_size=400))
def test_the_promises_hold_on_every_course_of_events(course: list[tuple[float, Event]]) -> None:
    run = Run()
    for span_s, given_event in course:
        run.now_s += span_s
        before, event = run.state, given_event
        if isinstance(event, PersonAnswers) and event.token == "open" and before.incident is not None:
            event = replace(event, token=before.incident.token)
        count = len(run.told)
        run.take(event)
        new, incident = run.words[count:], run.state.incident
        # An incident ends by well answers alone; a person's word quietens it and does not end it.
        if before.incident is not None and incident is None:
            assert isinstance(event, Well)
            assert new == [Told.BACK]
        # Nobody is told twice in one step, and a beginning only where nothing was open.
        assert len(new) <= 1
        assert (Told.SILENT in new) is (before.incident is None and incident is not None)
        # Only the link of the newest message answers.
        answered_now = incident is not None and incident.answered_s == run.now_s and Told.TAKEN in new
        assert answered_now is (Told.TAKEN in new)
        assert not answered_now or isinstance(event, PersonAnswers)
        # While nobody has answered and nothing looks well, there is never more than `repeat_s` without a message.
        open_now = incident is not None and incident.answered_s is None and incident.well_since_s is None
        if open_now and incident is not None and not isinstance(event, PersonAnswers):
            assert incident.next_s > run.now_s
            assert incident.next_s - run.now_s <= DEFAULT.repeat_s
    whole = [word for word in run.words if word in (Told.SILENT, Told.BACK)]
    assert whole == [Told.SILENT, Told.BACK] * (len(whole) // 2) + [Told.SILENT] * (len(whole) % 2)


def test_one_lost_answer_or_one_unwell_answer_tells_nobody() -> None:
    run = Run()
    for _ in range(20):
        run.take(NotWell("Clutchwarden is starting."))
        run.wait(60)
        run.take(Well())
        run.wait(30)
    assert run.words == []


def test_an_unwell_daemon_that_answers_all_the_time_is_told_with_its_reason() -> None:
    run = Run()
    run.take(Well())
    run.wait(150, NotWell("The broker is not connected."))
    [(at_s, tell)] = run.told
    assert at_s - START_S <= DEFAULT.silence_s + TICK_S
    assert tell.trouble == "The broker is not connected."


def test_it_is_told_again_every_five_minutes_until_somebody_answers_and_then_not() -> None:
    run = silent()
    run.wait(3 * DEFAULT.repeat_s)
    assert run.words == [Told.SILENT, Told.STILL, Told.STILL, Told.STILL]
    times = [at_s for at_s, _ in run.told]
    assert {later - earlier for earlier, later in pairwise(times)} == {DEFAULT.repeat_s}
    run.take(PersonAnswers(run.token, "Ana"))
    run.wait(3600)
    assert run.words[4:] == [Told.TAKEN]


def test_an_answer_does_not_hold_for_ever() -> None:
    run = silent()
    run.take(PersonAnswers(run.token, "Ana"))
    run.wait(DEFAULT.answer_holds_s + TICK_S)
    assert run.words == [Told.SILENT, Told.TAKEN, Told.STILL]
    assert run.state.incident is not None
    assert run.state.incident.who == ""


@pytest.mark.parametrize("answered", [False, True])
def test_the_return_is_told_once_and_only_when_it_lasts(answered: bool) -> None:
    run = silent()
    if answered:
        run.take(PersonAnswers(run.token, "Ana"))
    count = len(run.told)
    run.take(Well())
    run.wait(20)
    run.take(NotWell("no answer"))  # it was none
    run.wait(20)
    run.take(Well())
    run.wait(300, Well())
    assert run.words[count:] == [Told.BACK]
    assert run.state.incident is None


def test_an_old_link_a_second_answer_and_an_answer_without_need_change_nothing_and_say_why() -> None:
    run = silent()
    run.take(PersonAnswers("of an earlier one", "Ana"))
    assert "earlier silence" in run.reason
    run.take(PersonAnswers(run.token, "Ana"))
    before = run.state
    run.take(PersonAnswers(run.token, "Ben"))
    assert run.reason == "Ana has answered already."
    assert run.state.incident == before.incident
    calm = Run()
    calm.take(PersonAnswers("x", "Ana"))
    assert "nothing to answer" in calm.reason
    assert run.words == [Told.SILENT, Told.TAKEN]
    assert calm.words == []


def test_a_heartbeat_that_returns_once_and_falls_silent_again_is_no_return() -> None:
    run = silent()
    run.take(Well())
    run.wait(DEFAULT.silence_s - 2)
    assert run.words == [Told.SILENT]
    run.wait(DEFAULT.repeat_s)
    assert Told.STILL in run.words
    run.take(Well())  # long after the first: the return begins here
    assert Told.BACK not in run.words


@pytest.mark.parametrize(("silent_s", "told_after_s"), [(0, DEFAULT.silence_s), (110, FIRST_LOOK_S)])
def test_a_pause_of_the_watcher_itself_is_no_silence_of_the_daemon(silent_s: float, told_after_s: float) -> None:
    run = Run()
    run.take(Well())
    run.wait(silent_s)
    run.now_s += 3600
    run.take(Tick())
    run.wait(told_after_s - 1)
    assert run.words == []
    run.wait(2)
    assert run.words == [Told.SILENT]


def test_the_time_of_day_in_words_is_that_of_the_last_well_answer() -> None:
    run = silent()
    assert run.state.incident is not None
    assert abs(run.state.incident.began_ms - START_MS) <= 1000
