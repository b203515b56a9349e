"""Readings that came long after they were measured: found afterwards is told once, and no ladder climbs for it.

The limits are those of the species of the test household: 24 to 30 °C; what is lethal, as its profile has it.
"""

import random
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from daemon.alarms.delivery import OutgoingMessage
from daemon.storage import alarm_log, samples
from sensors.reading import Reading
from tests.daemon.changing import AIR, GOOD_C, HIGH, LETHAL, LETHAL_C, NO_DATA, SOUTH, START_MS, Changing
from tests.daemon.evaluated import house_of
from tests.daemon.test_evaluate import run
from tests.support.household import MINUTE_MS, write_site
from tests.support.journals import new_journal

WARM_C = 31.5
"""Above the 30 °C of the clutch, and below what is lethal."""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Changing]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Changing(journal, tmp_path / "site")


def backlog(house: Changing, values: Iterable[tuple[int, float]], channel: str = AIR) -> None:
    """Readings by minutes after the start, all of which arrive now."""
    rows = [Reading(channel, START_MS + at * MINUTE_MS, house.now_ms, value, 0) for at, value in values]
    house.journal.write(lambda conn: samples.append(conn, house.ids, rows))


def waiting(house: Changing, minutes: int, every_s: int = 10) -> list[str]:
    """Let time pass with nothing that comes, and give what people are told."""
    for _ in range(minutes * 60 // every_s):
        house.now_ms += every_s * 1000
        house.steady_s += every_s
        house.evaluator.step(lambda: house.now_ms)
    return house.new_messages()


def outage(house: Changing, minutes: int = 240) -> None:
    """Live readings for ten minutes, and then none for so long; what people are told of the silence is passed over."""
    house.enter()
    house.minutes(10, {AIR: GOOD_C})
    waiting(house, minutes, every_s=60)


def course(hot: range, value: float, until: int, since: int = 11) -> list[tuple[int, float]]:
    return [(minute, value if minute in hot else GOOD_C) for minute in range(since, until)]


def events(house: Changing, key: str) -> list[tuple[str, int]]:
    with house.journal.read() as conn:
        found = [each for each in alarm_log.events(conn, 1000) if each.alarm_key == key]
    return [(each.event, (each.at_ms - START_MS) // MINUTE_MS) for each in reversed(found)]


def found_text(house: Changing) -> str:
    with house.journal.read() as conn:
        texts = [OutgoingMessage.from_json(text).body for (text,) in conn.execute("SELECT body FROM outbox")]
    [found] = [text for text in texts if "Found afterwards" in text]
    return found


def of_limits(told: list[str]) -> list[str]:
    return [line for line in told if "warm" in line or "hot" in line or "cool" in line]


def test_an_excursion_that_lay_in_a_backlog_is_told_once_and_nobody_is_reminded(house: Changing) -> None:
    outage(house)
    backlog(house, course(range(60, 91), WARM_C, 250))
    told = of_limits(house.minutes(10, {AIR: GOOD_C}))
    assert len(told) == 1
    assert told[0].startswith("ana/")
    assert "CHECK" in told[0]
    assert of_limits(house.minutes(600, {AIR: GOOD_C})) == []
    # Found at the minute at which it was measured: the first reading beyond is that of minute 60, the first inside 91.
    assert ("found afterwards", 60) in events(house, HIGH)
    assert [word for word, _ in events(house, HIGH)].count("raised") == 0
    assert house.desk().entries[HIGH].state.memory.waits_for_a_person


def test_the_text_says_where_how_much_when_and_that_it_is_over(house: Changing) -> None:
    outage(house)
    backlog(house, course(range(60, 91), WARM_C, 250))
    house.minutes(10, {AIR: GOOD_C})
    # START_MS is 2026-05-28T20:26:40Z, which is 22:26 in Madrid; minutes 60 and 91 after it are 23:26 and 23:57.
    said = found_text(house)
    assert "Found afterwards: North cabinet, upper shelf was 31.5 °C at most" in said
    assert "above its limit of" in said
    assert "23:26" in said
    assert "23:57" in said
    assert "It is over: 27.0 °C now." in said


def test_an_excursion_that_still_lasts_at_the_newest_reading_is_an_alarm_with_a_ladder(house: Changing) -> None:
    outage(house)
    backlog(house, course(range(200, 999), LETHAL_C, 250))
    told = waiting(house, 1)
    assert [line for line in told if "CRITICAL" in line]
    assert [line for line in waiting(house, 30) if "CRITICAL" in line]


def test_a_fresh_reading_that_is_still_beyond_is_told_at_once(house: Changing) -> None:
    outage(house)
    backlog(house, course(range(200, 999), LETHAL_C, 250))
    assert [line for line in house.minutes(1, {AIR: LETHAL_C}) if "CRITICAL" in line]


def test_a_lethal_excursion_that_is_over_is_urgent_and_no_ladder_climbs(house: Changing) -> None:
    outage(house)
    backlog(house, course(range(60, 91), LETHAL_C, 250))
    told = of_limits(house.minutes(30, {AIR: GOOD_C}))
    assert told
    assert all("URGENT" in line for line in told)
    assert {line.partition("/")[0] for line in told} == {"ana"}
    assert "dangerously hot" in told[0]
    assert of_limits(house.minutes(300, {AIR: GOOD_C})) == []
    # The warning below it says nothing of its own.
    assert HIGH not in house.desk().entries
    assert LETHAL in house.desk().entries


def test_readings_older_than_the_newest_one_are_looked_through_as_well(house: Changing) -> None:
    """A probe that sends what is new first and what it kept afterwards, the newest of it first."""
    outage(house)
    house.minutes(10, {AIR: GOOD_C})
    house.new_messages()
    backlog(house, reversed(course(range(60, 91), WARM_C, 250)))
    told = of_limits(house.minutes(10, {AIR: GOOD_C}))
    assert len(told) == 1
    assert ("found afterwards", 60) in events(house, HIGH)
    assert of_limits(house.minutes(60, {AIR: GOOD_C})) == []


def test_what_was_told_when_it_happened_is_not_found_again_by_readings_in_between(house: Changing) -> None:
    house.enter()
    house.minutes(10, {AIR: GOOD_C})
    for _ in range(10):
        # Every second reading comes; the others follow when it is over.
        house.minutes(1, {AIR: WARM_C})
        waiting(house, 1)
    house.minutes(30, {AIR: GOOD_C})
    house.new_messages()
    backlog(house, [(minute, WARM_C) for minute in range(12, 30, 2)])
    assert of_limits(house.minutes(30, {AIR: GOOD_C})) == []
    assert "found afterwards" not in [word for word, _ in events(house, HIGH)]


def test_a_usual_lag_stays_as_it_was(house: Changing) -> None:
    """Three minutes behind, less than the five that make a reading late."""
    house.enter()
    house.minutes(10, {AIR: GOOD_C})
    told: list[str] = []
    for minute in range(11, 40):
        house.now_ms = START_MS + (minute + 3) * MINUTE_MS
        backlog(house, [(minute, WARM_C)])
        house.evaluator.step(lambda: house.now_ms)
        told += house.new_messages()
    assert of_limits(told)
    assert "raised" in [word for word, _ in events(house, HIGH)]


def test_a_probe_whose_clock_is_behind_has_alarms_all_the_same(house: Changing) -> None:
    """Ten minutes behind for ever: every reading is late, and its alarm is told within some seconds of the others."""
    house.enter()
    for minute in range(1, 30):
        house.now_ms = START_MS + (minute + 10) * MINUTE_MS
        backlog(house, [(minute, LETHAL_C if minute > 10 else GOOD_C)])
        house.evaluator.step(lambda: house.now_ms)
        waited = house.now_ms
        house.now_ms = waited + 10_000
        house.evaluator.step(lambda: house.now_ms)
        told = [line for line in house.new_messages() if "dangerously hot" in line]
        if told:
            break
    assert told
    assert minute <= 14


def test_a_backlog_does_not_end_a_silence(house: Changing) -> None:
    outage(house)
    backlog(house, course(range(0), WARM_C, 240))
    waiting(house, 3)
    assert "cleared" not in [word for word, _ in events(house, NO_DATA)]
    house.minutes(5, {AIR: GOOD_C})
    assert events(house, NO_DATA)[-1][0] == "cleared"


def test_two_cabinets_are_told_in_one_message(house: Changing) -> None:
    house.site_file(SOUTH)
    house.enter()
    house.enter("Willow", "south")
    house.minutes(10, {AIR: GOOD_C, "south-air/air": GOOD_C})
    waiting(house, 240)
    backlog(house, course(range(60, 91), WARM_C, 250))
    house.evaluator.step(lambda: house.now_ms)
    house.now_ms += 30_000
    house.steady_s += 30
    # The other probe connects again half a minute later.
    backlog(house, course(range(60, 91), WARM_C + 0.5, 250), "south-air/air")
    told = house.minutes(10, {AIR: GOOD_C, "south-air/air": GOOD_C})
    assert len([line for line in told if "out of range" in line]) == 1
    assert "Also North cabinet" in found_text(house)


@pytest.mark.parametrize("seed", range(3))
def test_a_restart_at_any_moment_tells_the_same(tmp_path: Path, seed: int) -> None:
    chance, told = random.Random(seed), []
    for restarts in (False, True):
        with new_journal(tmp_path / f"{restarts}.sqlite3") as journal:
            house = Changing(journal, tmp_path / f"site-{restarts}")
            outage(house)
            rows = course(range(60, 91), WARM_C, 250)
            cuts = sorted(chance.sample(range(1, len(rows)), 5)) if restarts else []
            for start, end in zip([0, *cuts], [*cuts, len(rows)], strict=True):
                backlog(house, rows[start:end])
                if restarts:
                    house.restart()
                house.evaluator.step(lambda house=house: house.now_ms)  # type: ignore[misc]
            found = house.minutes(2, {AIR: GOOD_C})
            if restarts:
                house.restart()
            told.append((of_limits(found + house.minutes(60, {AIR: GOOD_C})), events(house, HIGH)))
    assert told[0] == told[1]
    assert len(told[0][0]) == 1


def outages(seed: int) -> list[Reading]:
    """Live readings, and outages after which a probe hands over what it kept: before what is new or after it."""
    chance = random.Random(seed)
    readings: list[Reading] = []
    at_ms = START_MS

    def block(count: int) -> Iterator[tuple[int, float]]:
        nonlocal at_ms
        hot = range(chance.randrange(count), count) if chance.random() < 0.3 else range(10, 10 + chance.randrange(40))
        high_c = chance.choice([WARM_C, LETHAL_C])
        for number in range(count):
            at_ms += MINUTE_MS
            yield at_ms, high_c if number in hot and count > 20 else GOOD_C

    for _ in range(4):
        readings += [Reading(AIR, one, one + 500, value, 0) for one, value in block(15)]
        kept = list(block(chance.randint(25, 150)))
        newer = [Reading(AIR, one, one + 500, value, 0) for one, value in block(5)] if chance.random() < 0.5 else []
        came_ms = at_ms + 1_000
        late = [Reading(AIR, one, came_ms + number * 20, value, 0) for number, (one, value) in enumerate(kept)]
        readings += [*newer, *late]
        at_ms += MINUTE_MS
    return readings


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**6), parts=st.integers(1, 8))
@example(seed=143_939, parts=4)  # an alarm that began before a cut and ended behind it
def test_a_run_in_parts_and_one_that_was_cut_off_end_like_one_replay_with_outages(seed: int, parts: int) -> None:
    """The same property as in `test_evaluate`, over readings that come late."""
    readings = outages(seed)
    cuts = sorted(random.Random(seed + 1).sample(range(1, len(readings)), parts))
    with tempfile.TemporaryDirectory() as folder:
        house = house_of(write_site(Path(folder) / "site", 1883, "http://127.0.0.1:9/phone"))
        replay = run(house, readings, [], restart=False)
        in_parts, cut_off = (run(house, readings, cuts, restart=restart) for restart in (False, True))
    assert in_parts == replay
    assert cut_off == replay
    assert cut_off.messages == in_parts.messages


def test_those_traces_find_and_raise_what_they_can() -> None:
    with tempfile.TemporaryDirectory() as folder:
        house = house_of(write_site(Path(folder) / "site", 1883, "http://127.0.0.1:9/phone"))
        results = [run(house, outages(seed), [], restart=False) for seed in range(8)]
    seen = {(event[1], event[3]) for result in results for event in result.events}
    assert {(HIGH, "found afterwards"), (LETHAL, "found afterwards"), (HIGH, "raised"), (LETHAL, "raised")} <= seen
