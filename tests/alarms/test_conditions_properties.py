"""Promises of one limit over any stream of readings."""

from dataclasses import dataclass, replace

from hypothesis import given
from hypothesis import strategies as st

from daemon.alarms.conditions import Change, ConditionState, Rule, Side, step
from tests.alarms.steady import steady

RULE = Rule(Side.HIGH, 32.0, 0.5, on_delay_s=120, off_delay_s=240, at_once_beyond=2.0, longest_gap_s=150)


@dataclass(frozen=True)
class Given:
    """One reading and the rule at its time."""

    measured_at_ms: int
    value: float
    suspect: bool
    rule: Rule | None


def readings(*rules: Rule | None, late: bool = True) -> st.SearchStrategy[list[Given]]:
    """Values on a grid around limit and deadband, steps around delays and gap, now and then back in time."""
    steps_s = st.sampled_from([30, 60, 60, 60, 119, 120, 121, 150, 151, 240, 1000, *((-60, 0) if late else ())])
    values = st.sampled_from([30.0, 31.0, 31.5, 31.6, 32.0, 32.1, 33.0, 33.9, 34.0, 36.0])
    suspect = st.sampled_from([False, False, False, True])
    rows = st.lists(st.tuples(steps_s, values, suspect, st.sampled_from(rules)), max_size=60)

    def placed(found: list[tuple[int, float, bool, Rule | None]]) -> list[Given]:
        at_ms, out = 0, []
        for step_s, value, is_suspect, rule in found:
            at_ms += step_s * 1000
            out.append(Given(at_ms, value, is_suspect, rule))
        return out

    return rows.map(placed)


ANY = readings(RULE, RULE, RULE, replace(RULE, limit=31.0), replace(RULE, side=Side.LOW), None)


def run(stream: list[Given], *, restart_every: int = 0) -> tuple[ConditionState, list[tuple[int, Change, str]]]:
    state, told = ConditionState(), []
    for number, each in enumerate(stream):
        if restart_every and number % restart_every == 0:
            state = ConditionState.from_json(state.to_json())
        after = step(state, each.rule, each.value, each.suspect, each.measured_at_ms)
        state = after.state
        if after.change:
            told.append((number, after.change, after.reason))
    return state, told


@steady
@given(ANY)
def test_raised_and_cleared_take_turns_and_raised_comes_first(stream: list[Given]) -> None:
    state, told = run(stream)
    for number, (_, change, _) in enumerate(told):
        assert change is (Change.RAISED if number % 2 == 0 else Change.CLEARED)
    assert state.phase.is_alarm is (len(told) % 2 == 1)


@steady
@given(ANY, st.integers(1, 7))
def test_a_restart_at_any_point_changes_nothing(stream: list[Given], restart_every: int) -> None:
    """OPC 10000-9, 5.8.18: after a restart the state of a limit alarm is recovered."""
    assert run(stream, restart_every=restart_every) == run(stream)


@steady
@given(ANY)
def test_nothing_changes_on_a_late_reading_and_on_a_suspect_one_only_where_the_limit_is_gone(
    stream: list[Given],
) -> None:
    newest_good_ms: int | None = None
    changed_at = {number for number, _, _ in run(stream)[1]}
    for number, each in enumerate(stream):
        is_late = newest_good_ms is not None and each.measured_at_ms <= newest_good_ms
        if is_late or (each.suspect and each.rule is not None):
            assert number not in changed_at
        if not each.suspect and not is_late:
            newest_good_ms = each.measured_at_ms


@steady
@given(readings(RULE))
def test_suspect_and_late_readings_might_as_well_not_have_come(stream: list[Given]) -> None:
    kept: list[Given] = []
    for each in stream:
        if not each.suspect and not (kept and each.measured_at_ms <= kept[-1].measured_at_ms):
            kept.append(each)
    state, told = run(stream)
    alone, told_alone = run(kept)
    assert (state, [change for _, change, _ in told]) == (alone, [change for _, change, _ in told_alone])


@steady
@given(readings(RULE, late=False))
def test_changes_are_those_that_the_whole_history_demands(stream: list[Given]) -> None:
    """The rules written as statements about all good readings so far, without a state to go wrong."""
    good = [each for each in stream if not each.suspect]
    demanded, begin, is_alarm = [], 0, False
    for number, each in enumerate(good):
        past = good[begin : number + 1]
        first = len(past) - 1
        if not is_alarm:
            while first >= 0 and past[first].value > RULE.limit:
                first -= 1
            stretch = past[first + 1 :]
            lasted = bool(stretch) and each.measured_at_ms - stretch[0].measured_at_ms >= RULE.on_delay_s * 1000
            if lasted or each.value >= RULE.limit + 2.0:
                demanded.append((each.measured_at_ms, Change.RAISED))
                is_alarm, begin = True, number + 1
            continue
        inside = RULE.limit - RULE.deadband
        while (
            first >= 0
            and past[first].value <= inside
            and (
                first == len(past) - 1
                or past[first + 1].measured_at_ms - past[first].measured_at_ms <= RULE.longest_gap_s * 1000
            )
        ):
            first -= 1
        stretch = past[first + 1 :]
        if stretch and each.measured_at_ms - stretch[0].measured_at_ms >= RULE.off_delay_s * 1000:
            demanded.append((each.measured_at_ms, Change.CLEARED))
            is_alarm, begin = False, number + 1
    assert [(good_at(stream, number), change) for number, change, _ in run(stream)[1]] == demanded


def good_at(stream: list[Given], number: int) -> int:
    return stream[number].measured_at_ms


@steady
@given(readings(RULE))
def test_the_peak_is_the_worst_good_reading_of_the_occurrence(stream: list[Given]) -> None:
    state, good = ConditionState(), []
    for each in stream:
        after = step(state, each.rule, each.value, each.suspect, each.measured_at_ms)
        if after.state != state:
            good.append((each.measured_at_ms, each.value))
        state = after.state
        if state.since_ms is not None:
            assert state.peak == max(value for at_ms, value in good if at_ms >= state.since_ms)
