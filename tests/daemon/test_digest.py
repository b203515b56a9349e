"""The digest of the day over a real journal: what it reads, who gets it, and that each day has one."""

import logging
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from daemon.alarms.delivery import MessageKind, MessageStatus
from daemon.alarms.events import Shelve
from daemon.clutches import register
from daemon.digest import DigestReader, DigestWriter
from daemon.overview import Overview
from daemon.review.values import Cause, Incident, Span
from daemon.storage import incidents
from daemon.storage.journal import JournalError
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch
from tests.support.lettered import (
    AIR,
    BOX_AIR,
    HUMIDITY,
    ON_CALL,
    TWO_CONTACTS,
    LetteredHouse,
    lettered_house,
    local_ms,
)
from tests.support.processes import wait_until

DUE = "2026-05-28T07:30"
DUE_MS = local_ms(DUE)
NO_TEST = "\n[messages]\ntest = false\n"
HOUR_MS = 60 * MINUTE_MS


@pytest.fixture
def house(tmp_path: Path) -> Iterator[LetteredHouse]:
    with lettered_house(tmp_path, "2026-05-26T12:00", TWO_CONTACTS + ON_CALL + NO_TEST) as made:
        yield made


def body(house: LetteredHouse, contact: str = "ana/0") -> str:
    return house.messages("digest")[contact][-1].body


def count(house: LetteredHouse) -> dict[str, int]:
    return {contact: len(found) for contact, found in house.messages("digest").items()}


def test_one_for_each_person_to_the_first_contact_of_the_lowest_urgency_and_none_to_those_for_emergencies(
    house: LetteredHouse,
) -> None:
    assert not house.at("2026-05-28T07:29")
    assert house.at(DUE)
    assert house.woken == 1
    assert count(house) == {"ana/0": 1, "ben/0": 1}
    [message] = house.messages("digest")["ana/0"]
    assert (message.kind, message.status, message.priority) == (MessageKind.DIGEST, MessageStatus.ACTUAL, 3)
    assert message.headline == "Digest of 28 May: no alarm open"
    assert message.acknowledge_url is None


def test_a_contact_whose_address_is_gone_is_passed_over_and_the_last_one_is_tried_all_the_same(
    house: LetteredHouse,
) -> None:
    with house.journal.read() as conn:
        digest = DigestReader(house.site, house.profiles, 30 * MINUTE_MS).read(conn, house.overview(), DUE_MS)
        for dead, contact in ((frozenset({"ben/0"}), "ben/1"), (frozenset({"ben/0", "ben/1"}), "ben/0")):
            writer = DigestWriter(house.site, MessageStatus.ACTUAL, lambda *_, gone=dead: gone)
            [ben] = [each for each in writer.missing(conn, "2026-05-28") if each.id == "ben"]
            assert [each.contact for each in writer.messages(conn, [ben], digest, "2026-05-28")] == [contact]


def test_each_day_has_one_over_restarts_a_clock_set_back_and_a_day_in_which_the_clocks_change(
    tmp_path: Path,
) -> None:
    with lettered_house(tmp_path, "2026-03-27T00:10", NO_TEST) as house:
        while house.clock.at_ms < local_ms("2026-04-01T00:00"):
            house.clock.at_ms += HOUR_MS
            house.start()
            house.letters.look()
        house.clock.at_ms -= 2 * DAY_MS
        house.start()
        assert not house.letters.look()
        [found] = house.messages("digest").values()
    assert [each.headline.split(":")[0] for each in found] == [f"Digest of {day} Mar" for day in range(27, 32)]


@pytest.mark.parametrize(("back", "sent"), [("2026-05-28T19:29", True), ("2026-05-28T19:31", False)])
def test_after_a_pause_it_comes_late_by_day_and_not_at_night(house: LetteredHouse, back: str, sent: bool) -> None:
    house.clock.at_ms = local_ms(back)
    house.start()
    assert house.letters.look() is sent


def test_a_kill_between_reading_and_writing_loses_nothing_and_doubles_nothing(house: LetteredHouse) -> None:
    class Killed(BaseException):
        pass

    def cut_off() -> Overview:
        raise Killed

    house.clock.at_ms = DUE_MS
    with pytest.raises(Killed):
        house.make_letters(cut_off).look()
    assert count(house) == {}
    for _ in range(3):
        house.start()
        house.letters.look()
    assert count(house) == {"ana/0": 1, "ben/0": 1}


def test_a_fault_is_logged_once_tried_again_and_holds_no_test_up(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    times = '\n[messages]\ntest_day = "thursday"\ntest_time = "07:30"\n'
    fails = [True]
    with lettered_house(tmp_path, "2026-05-26T12:00", times) as house:

        def overview() -> Overview:
            if fails:
                raise ValueError("no such thing")
            return house.overview()

        letters = house.make_letters(overview)
        house.clock.at_ms = DUE_MS
        with caplog.at_level(logging.ERROR):
            assert letters.look()
            assert not letters.look()
        assert len([each for each in caplog.records if each.exc_info]) == 1
        assert list(house.messages("test")) == ["ana/0"]
        fails.clear()
        assert letters.look()
        assert count(house) == {"ana/0": 1}


def test_a_journal_that_cannot_be_read_ends_nothing(house: LetteredHouse, caplog: pytest.LogCaptureFixture) -> None:
    house.clock.at_ms = DUE_MS
    house.journal.close()
    assert not house.letters.look()
    assert "is tried again" in caplog.text
    with pytest.raises(JournalError):
        house.letters.due(DUE_MS)


@pytest.mark.parametrize(
    "extra", ["\n[messages]\ntest = false\ndigest = false\n", '\n[messages]\ndigest_time="09:00"\n']
)
def test_it_comes_when_and_if_the_keeper_says(tmp_path: Path, extra: str) -> None:
    with lettered_house(tmp_path, "2026-05-26T12:00", extra) as house:
        assert not house.at("2026-05-28T08:59")
        assert house.at("2026-05-28T09:00") is ("09:00" in extra)


def test_where_nobody_has_a_contact_nothing_is_written(tmp_path: Path) -> None:
    with lettered_house(tmp_path, "2026-05-26T12:00") as house:
        site = house.site.model_copy(update={"people": ()})
        house.site = site
        assert house.make_letters(house.overview).due(DUE_MS) == ()


def test_in_the_demo_it_is_a_demo(tmp_path: Path) -> None:
    with lettered_house(tmp_path, "2026-05-27T20:00", NO_TEST, rate=300.0) as house:
        house.status = MessageStatus.DEMO
        house.start()
        assert not house.at("2026-05-28T00:59")
        assert house.at(DUE)
        assert house.messages("digest")["ana/0"][0].status is MessageStatus.DEMO


def test_least_mean_and_most_of_the_last_day_are_those_of_numpy_on_irregular_readings(house: LetteredHouse) -> None:
    chance = np.random.default_rng(28)
    times = DUE_MS - 2 * DAY_MS + np.cumsum(chance.integers(5_000, 20 * MINUTE_MS, 290))
    times = times[times <= DUE_MS]
    kept = (times < DUE_MS - 6 * HOUR_MS) | (times > DUE_MS - 3 * HOUR_MS)
    times = times[kept]
    values = 28 + np.sin(times / 4e6) + chance.normal(0, 0.2, len(times))
    house.put(*((AIR, int(at), float(value)) for at, value in zip(times, values, strict=True)))
    house.put(
        *((BOX_AIR, int(at), float(value)) for at, value in zip(times, values, strict=True) if at < DUE_MS - DAY_MS)
    )
    house.at(DUE)
    day = (times >= DUE_MS - DAY_MS) & (times < DUE_MS)
    inside, at = values[day], times[day]
    steps = np.diff(at)
    near = steps <= 30 * MINUTE_MS
    mean = float(np.sum((steps * (inside[1:] + inside[:-1]) / 2)[near]) / steps[near].sum())
    missing_h = (DAY_MS - steps[near].sum()) / HOUR_MS
    assert missing_h > 3
    expected = f"{inside.min():.1f} / {mean:.1f} / {inside.max():.1f} °C, {missing_h:.1f} h without readings"
    assert f"North cabinet, upper shelf: {expected}; humidity without readings for 24 h" in body(house)
    assert "South cabinet, low shelf, box S1: air without readings for 24 h" in body(house)


@pytest.fixture
def hot(house: LetteredHouse) -> LetteredHouse:
    """A clutch that is too warm: since half past six there has been 31.5 °C where 30.0 °C is the limit."""
    house.journal.write(lambda conn: register.add_clutch(conn, a_clutch(DUE_MS - 30 * DAY_MS), "test", DUE_MS))
    for at_ms in range(DUE_MS - 3 * HOUR_MS, DUE_MS, MINUTE_MS):
        house.put((AIR, at_ms, 28.0 if at_ms < DUE_MS - HOUR_MS else 31.5), (HUMIDITY, at_ms, 80.0))
        house.clock.at_ms = at_ms
        house.evaluate()
    return house


def test_an_alarm_that_is_open_stands_first_and_its_clutch_and_place_are_marked(hot: LetteredHouse) -> None:
    hot.at(DUE)
    [message] = hot.messages("digest")["ana/0"]
    assert re.fullmatch(r"Digest of 28 May: \d alarms? open", message.headline)
    lines = message.body.splitlines()
    assert lines[0] == "Open:"
    assert any(
        re.fullmatch(r"URGENT North cabinet, upper shelf: too warm, since 0\d:\d\d, unacknowledged", each)
        for each in lines
    )
    assert "28.0 / 29.2 / 31.5 °C (above 30.0 °C), 21.0 h without readings; 80 / 80 / 80 % RH" in message.body
    assert re.search(r"^Juniper: \d+ %, hatching \d+ Jun to \d+ Jul$|^Juniper: \d+ %, ", message.body, re.MULTILINE)


def test_a_shelved_alarm_is_under_what_is_not_told_with_its_countdown(hot: LetteredHouse) -> None:
    shelve = Shelve("ana", "door stands open on purpose", DUE_MS + 90 * MINUTE_MS)
    hot.journal.write(lambda conn: hot.work.do(conn, {f"temperature-high:{AIR}": shelve}, DUE_MS - MINUTE_MS))
    hot.at(DUE)
    [message] = hot.messages("digest")["ana/0"]
    assert "not told" in message.headline
    told = "too warm, shelved by Ana until 09:00 (1 h 30 min left): door stands open on purpose"
    assert f"North cabinet, upper shelf: {told}" in message.body.splitlines()


def test_rounds_and_what_is_wrong_with_the_service_itself_are_lines_of_their_own(tmp_path: Path) -> None:
    def rounds(_conn: object, now_ms: int) -> list[str]:
        return [f"Next round in {(DUE_MS + 2 * DAY_MS - now_ms) // DAY_MS} days."]

    with lettered_house(tmp_path, "2026-05-26T12:00", NO_TEST, rounds=rounds) as house:
        house.troubles = ("Alerts are not sent any more: restart clutchwarden.",)
        house.at(DUE)
        text = body(house)
    assert "Rounds:\nNext round in 2 days." in text
    assert "Clutchwarden itself:\nAlerts are not sent any more: restart clutchwarden." in text


def test_its_thread_looks_by_itself_and_ends(house: LetteredHouse) -> None:
    """A demo's pace makes it look each second."""
    house.clock.at_ms = DUE_MS - 70 * 300_000
    house.clock.rate = 300.0
    letters = house.make_letters(house.overview)
    house.clock.at_ms = DUE_MS
    letters.start()
    try:
        wait_until(lambda: bool(count(house)), "the digest")
        assert letters.alive
    finally:
        letters.stop()
    assert not letters.alive


def test_a_review_that_has_waited_for_three_days_is_named(house: LetteredHouse) -> None:
    """No alarm and no call: one line, from three days after the end of an incident to its outcome."""
    gap = Incident(0, Span(DUE_MS - 4 * DAY_MS, DUE_MS - 3 * DAY_MS), (), Cause.PROBE_SILENT, (), (), "a gap")
    number = house.journal.write(lambda conn: incidents.put(conn, gap, DUE_MS))
    assert house.at(DUE)
    assert f"Reviews:\n1 incident waits for a review: {number} (A probe fell silent, Sun 24 May" in body(house)
    house.journal.write(lambda conn: incidents.add_note(conn, number, DUE_MS, "ana", "outcome", "all well"))
    assert house.at("2026-05-29T07:30")
    assert "Reviews:" not in body(house)
