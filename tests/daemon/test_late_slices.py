"""Late readings are looked through in slices: nobody waits for years of them, and nothing depends on how they are cut.

The limits are those of the species of the test household: 24 to 30 °C; what is lethal, as its profile has it.
"""

import random
import tempfile
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from config.words import AlarmKind
from daemon import late_excursions, late_looks
from daemon.late_gathering import APART_MS, MOST_STRETCHES, Excursion, Gathering, widened
from daemon.late_look import MOST_OF_ONE, Look, from_json, to_json
from daemon.storage import late
from tests.daemon.changing import AIR, GOOD_C, HIGH, LETHAL, LETHAL_C, SOUTH, START_MS, Changing
from tests.daemon.evaluated import house_of
from tests.daemon.test_evaluate import Result, run
from tests.daemon.test_late_readings import WARM_C, backlog, course, events, of_limits, outage, outages, waiting
from tests.support.household import MINUTE_MS, write_site
from tests.support.journals import new_journal


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Changing]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Changing(journal, tmp_path / "site")


@pytest.fixture
def small_slices(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(late_looks, "READINGS_AT_ONCE", 20)


def kept(house: Changing) -> tuple[Gathering | None, list[Look]]:
    with house.journal.read() as conn:
        return from_json(late.gathering(conn))


def stepped_until(
    house: Changing, is_so: Callable[[Gathering | None, list[Look]], bool]
) -> tuple[Gathering | None, list[Look]]:
    """Step on until what is kept over a restart is so; gives it."""
    for _ in range(400):
        house.now_ms += 5000
        house.steady_s += 5
        house.evaluator.step(lambda: house.now_ms)
        if is_so(*kept(house)):
            return kept(house)
    raise AssertionError("it never was so")


def looks_left(house: Changing) -> int:
    return len(kept(house)[1])


def sliced(result: Result) -> tuple[list[str], object, object]:
    """Which event is written down first depends on the slices; what is written down does not."""
    return sorted(map(repr, result.events)), result.states, result.hours


@settings(max_examples=3, deadline=None)
@given(seed=st.integers(0, 10**6), parts=st.integers(1, 8))
@example(seed=1003, parts=4)  # a warning that ends a slice later than the lethal limit that was passed with it
def test_slices_and_kills_between_them_find_what_one_look_finds(seed: int, parts: int) -> None:
    readings = outages(seed)
    cuts = sorted(random.Random(seed + 1).sample(range(1, len(readings)), parts))
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        house = house_of(write_site(Path(folder) / "site", 1883, "http://127.0.0.1:9/phone"))
        whole = run(house, readings, [], restart=False)
        patch.setattr(late_looks, "READINGS_AT_ONCE", 20 + seed % 50)
        for restart in (False, True):
            assert sliced(run(house, readings, cuts, restart=restart)) == sliced(whole)


def old_after_new(house: Changing, hot: range) -> None:
    """A probe that sends what is new first, and afterwards what it kept for four hours."""
    outage(house)
    house.minutes(5, {AIR: GOOD_C})
    house.new_messages()
    backlog(house, course(hot, WARM_C, 245))
    house.minutes(1, {AIR: GOOD_C})


@pytest.mark.usefixtures("small_slices")
def test_a_live_lethal_reading_is_told_while_late_ones_are_still_looked_through(house: Changing) -> None:
    old_after_new(house, range(200, 231))
    waiting(house, 1)
    told = house.minutes(1, {AIR: GOOD_C}) + house.minutes(2, {AIR: LETHAL_C})
    assert looks_left(house) == 1
    assert [line for line in told if "CRITICAL" in line]
    assert [word for word, _ in events(house, HIGH)].count("found afterwards") == 0
    # And then it is found all the same, once, whatever was told meanwhile.
    assert len([line for line in waiting(house, 20) if "was too warm" in line]) == 1
    assert looks_left(house) == 0
    assert [each for each in events(house, HIGH) if each[0] == "found afterwards"] == [("found afterwards", 200)]


@pytest.mark.usefixtures("small_slices")
def test_a_kill_in_the_middle_of_a_look_tells_once(house: Changing) -> None:
    old_after_new(house, range(100, 131))
    told = []
    for _ in range(40):
        told += waiting(house, 1)
        house.restart()
    assert len(of_limits(told)) == 1
    assert [each for each in events(house, HIGH) if each[0] == "found afterwards"] == [("found afterwards", 100)]


@pytest.mark.usefixtures("small_slices")
def test_what_is_lethal_at_a_newest_reading_does_not_wait_for_the_hours_before_it(house: Changing) -> None:
    outage(house)
    house.minutes(1, {AIR: 34.5})
    backlog(house, course(range(100, 999), 34.5, 240))
    told = waiting(house, 3)
    assert looks_left(house) == 1
    assert [line for line in told if "CRITICAL" in line and "dangerously hot" in line]


def test_late_readings_far_apart_are_looked_through_each_for_themselves() -> None:
    """One with a date of years ago must not have all that lies in between looked through."""
    year_ms = 365 * 24 * 3_600_000
    spans = widened(widened(widened([], 10 * year_ms), 10 * year_ms + APART_MS), 7)
    assert spans == [(7, 7), (10 * year_ms, 10 * year_ms + APART_MS)]
    assert widened(spans, 10 * year_ms + 5) == spans


@given(st.lists(st.integers(0, 200 * APART_MS), min_size=1, max_size=80))
def test_no_late_reading_is_outside_the_spans_and_there_are_few_of_them(moments: list[int]) -> None:
    spans: list[tuple[int, int]] = []
    for moment in moments:
        spans = widened(spans, moment)
    assert all(any(low <= moment <= high for low, high in spans) for moment in moments)
    assert len(spans) <= MOST_STRETCHES
    assert all(later[0] > earlier[1] for earlier, later in pairwise(spans))


def test_what_an_earlier_version_gathered_is_read() -> None:
    text = '{"first_ms":1,"last_ms":2,"channels":["a/b"],"spans":{"a/b":[3,4]},"excursions":[]}'
    gathering, looks = from_json(text)
    assert gathering is not None
    assert gathering.spans == {"a/b": [(3, 4)]}
    assert looks == []


def test_nobody_waits_longer_than_a_quarter_of_an_hour_for_what_was_found_so_far(
    house: Changing, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(late_looks, "READINGS_AT_ONCE", 2)
    old_after_new(house, range(30, 61))
    told = waiting(house, 16)
    assert len([line for line in told if "was too warm" in line]) == 1
    assert looks_left(house) == 1
    assert of_limits(waiting(house, 10)) == []
    assert looks_left(house) == 0


def test_of_many_of_one_kind_the_mildest_are_counted_alone() -> None:
    look = Look(0, 0, 0, 0, 0, [], [], {}, {})
    worst = [30.5 + 0.1 * number for number in range(MOST_OF_ONE + 1)]
    random.Random(7).shuffle(worst)
    for number, worst_c in enumerate(worst):
        look.keep(Excursion(AlarmKind.TEMPERATURE_HIGH, AIR, "north", number, number + 1, worst_c, 30.0, str(number)))
    assert sorted(each.worst for each in look.found) == sorted(worst)[1:]
    assert (len(look.found), look.more) == (20, 1)
    # Those of another kind do not push any of them out.
    look.keep(Excursion(AlarmKind.TEMPERATURE_LOW, AIR, "north", 1, 2, 23.9, 24.0, "low"))
    assert (len(look.found), look.more) == (21, 1)


@pytest.mark.usefixtures("small_slices")
def test_since_when_it_is_lethal_is_seen_beyond_the_few_newest_readings(
    house: Changing, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(late_excursions, "END_READINGS", (20, 400))
    outage(house)
    house.minutes(1, {AIR: 34.5})
    backlog(house, course(range(100, 999), 34.5, 240))
    waiting(house, 3)
    assert looks_left(house) == 1
    assert house.desk().entries[LETHAL].raised.since_ms == START_MS + 100 * MINUTE_MS


SOUTH_AIR = "south-air/air"
IN_NORTH = """
[[probe]]
id = "south-air"
place = "north"
interval_s = 60
[[probe.channel]]
name = "air"
quantity = "air_temperature"
"""


def found_in_the_south(house: Changing, *, in_a_look: bool, value_c: float = WARM_C) -> None:
    """What lay in a backlog of the south waits to be told: in a gathering, or in a look that is not done."""
    house.site_file(SOUTH)
    house.enter()
    house.enter("Bracken", "south")
    both = {AIR: GOOD_C, SOUTH_AIR: GOOD_C}
    house.minutes(10, both)
    waiting(house, 240, every_s=60)
    if in_a_look:
        house.minutes(5, both)
    backlog(house, course(range(100, 131), value_c, 245), SOUTH_AIR)
    if in_a_look:
        stepped_until(house, lambda _, looks: bool(looks and looks[0].found))
    else:
        stepped_until(house, lambda gathering, _: gathering is not None and bool(gathering.excursions))
    house.new_messages()


@pytest.mark.usefixtures("small_slices")
@pytest.mark.parametrize("extra", ["", IN_NORTH], ids=["taken out", "moved"])
@pytest.mark.parametrize("in_a_look", [False, True], ids=["gathering", "look"])
def test_what_waits_of_a_probe_that_the_site_has_no_more_stops_no_alarm(
    house: Changing, caplog: pytest.LogCaptureFixture, in_a_look: bool, extra: str
) -> None:
    found_in_the_south(house, in_a_look=in_a_look)
    house.site_file(extra)
    told = waiting(house, 20)
    assert of_limits(told) == []
    assert len([line for line in caplog.messages if "on record and told to nobody" in line]) == 1
    assert kept(house) == (None, [])
    south = [each for each in events(house, f"temperature-high:{SOUTH_AIR}") if each[0] == "found afterwards"]
    assert south == [("found afterwards", 100)]
    assert [line for line in house.minutes(3, {AIR: LETHAL_C}) if "CRITICAL" in line]


@pytest.mark.usefixtures("small_slices")
def test_what_was_lethal_is_told_under_the_place_of_today(house: Changing, caplog: pytest.LogCaptureFixture) -> None:
    """A place that was given another id, while the message waited: eggs lay in it."""
    found_in_the_south(house, in_a_look=False, value_c=LETHAL_C)
    house.site_file(SOUTH.replace('"south"', '"attic"').replace("South", "Attic"))
    told = waiting(house, 20)
    assert [line for line in told if "URGENT Attic cabinet: was dangerously hot, over now" in line]
    assert [line for line in caplog.messages if "It is told of attic, where the probe is now." in line]


@pytest.mark.usefixtures("small_slices")
def test_a_look_goes_on_where_what_it_remembers_cannot_be_read(
    house: Changing, caplog: pytest.LogCaptureFixture
) -> None:
    """It stands in the middle of the first stretch, with limits of alarms that this channel has not."""
    old_after_new(house, range(200, 231))
    gathering, looks = stepped_until(house, lambda _, looks: bool(looks and looks[0].position))
    position = looks[0].position
    assert position is not None
    limits = {"humidity-high": 95.0, "lightning": 1.0}
    looks[0].position = position._replace(memory='{"lightning": {}}', limits=limits)
    house.journal.write(lambda conn: late.keep_gathering(conn, to_json(gathering, looks)))
    house.restart()
    assert len([line for line in waiting(house, 20) if "was too warm" in line]) == 1
    assert looks_left(house) == 0
    assert [line for line in caplog.messages if f"An alarm in late readings of {AIR} starts anew: lightning" in line]
