"""Standing conditions: delays both ways, what is unknown, a clock that is set, a restart at any point.

X-24 of the checks in tests/alarms/README.md.
"""

from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import AlarmKind
from daemon.alarms.conditions import Change
from daemon.alarms.definitions import DEFINITIONS
from daemon.standing.found import Found
from daemon.standing.stepper import StandingWatch

DOOR = AlarmKind.DOOR_OPEN  # 300 s until it is told, 10 s until it is over
OPEN = Found(DOOR, "north", "the door contact says open", "north")
KINDS = frozenset({DOOR})


def looks(watch: StandingWatch, *seen: tuple[int, list[Found]]) -> list[tuple[Change, int]]:
    return [(one.change, one.at_ms) for at_s, found in seen for one in watch.look(KINDS, found, at_s * 1000)]


def test_it_is_told_after_its_delay_and_over_after_its_own() -> None:
    watch = StandingWatch(DEFINITIONS)
    seen = [(at_s, [OPEN] if at_s < 400 else []) for at_s in range(0, 420, 5)]
    assert looks(watch, *seen) == [(Change.RAISED, 300_000), (Change.CLEARED, 400_000)]


def test_one_that_ends_before_its_delay_is_never_told() -> None:
    watch = StandingWatch(DEFINITIONS)
    assert looks(watch, (0, [OPEN]), (290, [OPEN]), (295, []), (296, [OPEN]), (500, [OPEN])) == []
    assert looks(watch, (596, [OPEN])) == [(Change.RAISED, 596_000)]


def test_one_that_began_before_anybody_looked_counts_from_then() -> None:
    (raised,) = StandingWatch(DEFINITIONS).look(KINDS, [Found(DOOR, "n", "open", since_ms=0)], 400_000)
    assert (raised.since_ms, raised.occurrence) == (0, "door-open:n:0")


def test_while_nothing_can_be_said_an_alarm_stays_on_and_none_begins() -> None:
    watch, unknown = StandingWatch(DEFINITIONS), Found(DOOR, "north", "the contact is silent", "north", known=False)
    assert looks(watch, (0, [OPEN]), (100, [unknown]), (350, [OPEN])) == []
    assert looks(watch, (650, [OPEN])) == [(Change.RAISED, 650_000)]
    assert looks(watch, (660, []), (665, [unknown]), (5000, [unknown]), (5001, [])) == []
    assert looks(watch, (5011, [])) == [(Change.CLEARED, 5_001_000)]


def test_a_clock_set_back_holds_nothing_up() -> None:
    watch = StandingWatch(DEFINITIONS)
    assert looks(watch, (10_000, [OPEN]), (50, [OPEN]), (350, [OPEN])) == [(Change.RAISED, 350_000)]
    assert looks(watch, (9_000, []), (20, []), (30, [])) == [(Change.CLEARED, 20_000)]


def test_a_row_that_cannot_be_read_starts_anew_and_is_told_of() -> None:
    watch = StandingWatch(DEFINITIONS, {"door-open:north": '{"found": 3}'})
    assert len(watch.problems) == 1
    assert watch.problems[0].startswith("door-open:north: ")


steps = st.lists(st.tuples(st.integers(1, 200), st.sampled_from(["on", "off", "unknown"])), max_size=40)


@settings(max_examples=300, deadline=None)
@given(steps, st.integers(0, 40))
def test_a_restart_at_any_point_changes_nothing(seen: list[tuple[int, str]], cut: int) -> None:
    found = {"on": [OPEN], "off": [], "unknown": [Found(DOOR, "north", "?", "north", known=False)]}
    moments = [sum(step for step, _ in seen[: number + 1]) for number in range(len(seen))]
    trace = [(at_s, found[what]) for at_s, (_, what) in zip(moments, seen, strict=True)]
    whole, first = StandingWatch(DEFINITIONS), StandingWatch(DEFINITIONS)
    before = looks(first, *trace[:cut])
    after = looks(StandingWatch(DEFINITIONS, first.to_rows()), *trace[cut:])
    assert looks(whole, *trace) == before + after


def test_a_clock_that_is_set_neither_shortens_nor_lengthens_a_delay() -> None:
    """X-10: 100 s of a delay of 300 s are over when it is set; 200 s are left."""
    for by_s in (3600, -3600):
        watch = StandingWatch(DEFINITIONS)
        assert looks(watch, (10_000, [OPEN]), (10_100, [OPEN])) == []
        watch.clock_was_set(by_s * 1000)
        assert looks(watch, (10_100 + by_s, [OPEN]), (10_299 + by_s, [OPEN])) == []
        assert looks(watch, (10_300 + by_s, [OPEN])) == [(Change.RAISED, (10_300 + by_s) * 1000)]


def test_what_had_only_begun_before_a_pause_begins_anew() -> None:
    watch = StandingWatch(DEFINITIONS)
    assert looks(watch, (0, [OPEN])) == []
    watch.forget_begun(KINDS)
    assert looks(watch, (28_800, [OPEN]), (29_000, [OPEN])) == []
    assert looks(watch, (29_100, [OPEN])) == [(Change.RAISED, 29_100_000)]
    watch.forget_begun(KINDS)
    assert watch.is_on(DOOR, "north")


def test_an_alarm_goes_with_its_clutch() -> None:
    watch = StandingWatch(DEFINITIONS)
    kinds = frozenset({AlarmKind.EXPOSURE})
    [_] = watch.look(kinds, [Found(AlarmKind.EXPOSURE, "clutch-1", "too long", "north/upper/N1")], 0)
    assert watch.look(kinds, [Found(AlarmKind.EXPOSURE, "clutch-1", "too long", "south/low/S1")], 1) == []
    [over] = watch.look(kinds, [], 2)
    assert over.place == "south/low/S1"
