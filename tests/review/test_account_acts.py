"""What people did in a night without mains and after it, as its account has it, and what comes first in it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.alarms.events import Shelve
from daemon.clutches import register
from daemon.desk_work import DeskWork
from daemon.review.account import LineKind
from daemon.review.account_text import account_text
from daemon.review_incidents import IncidentDesk
from daemon.storage import audit, rounds, samples
from daemon.storage.audit import Change
from sensors.reading import Reading
from tests.support.household import MINUTE_MS, a_clutch
from tests.support.told_night import AIR, DOOR, ToldNight, at, lines, live_through, told_night

SHELF = "north/upper"


@pytest.fixture
def night(tmp_path: Path) -> Iterator[ToldNight]:
    with told_night(tmp_path) as made:
        yield made


def test_what_people_did_is_in_the_timeline(night: ToldNight) -> None:
    work, key = DeskWork(night.house.site, night.house.profiles), f"{AlarmKind.TEMPERATURE_LOW}:{AIR}"
    shelf = Shelve("ana", "it warms up", at(6, 40) + MINUTE_MS)
    live_through(night, lambda: night.journal.write(lambda conn: work.do(conn, {key: shelf}, at(6, 40))))
    night.journal.write(lambda conn: rounds.start(conn, "north", "Ana", at(8), 20 * MINUTE_MS))
    night.journal.write(lambda conn: rounds.end(conn, "north", "Ana", "all dry", at(8, 10)))
    door = [Reading(DOOR, at(8, 5, 30), at(8, 5, 31), 1.0, 0)]
    night.journal.write(lambda conn: samples.append(conn, night.ids, door))
    change = Change("ana", "192.0.2.7", "site", "quiet hours", why="nights are short")
    night.journal.write(lambda conn: audit.record(conn, change, at(8, 15)))
    night.journal.write(lambda conn: register.add_clutch(conn, a_clutch(at(8), "Late one", SHELF), "ana", at(8, 14)))
    signed_in = Change("ana", "192.0.2.7", "sign-in", "ana")
    night.journal.write(lambda conn: audit.record(conn, signed_in, at(8, 16)))
    found = night.newest()
    assert lines(found, LineKind.ROUND) == ["Round begun by Ana.", "Round ended by Ana. all dry"]
    assert lines(found, LineKind.DOOR) == ["Door open (door/door).", "Door shut (door/door)."]
    assert any(
        each.startswith("Too cool (north-air/air) was shelved by Ana.") for each in lines(found, LineKind.PERSON)
    )
    assert lines(found, LineKind.CHANGE) == [
        "Register, Late one: entered, by Ana.",
        "Changed: site (quiet hours), by Ana: nights are short.",
    ]


def test_notes_end_the_wait_and_older_ones_stay(night: ToldNight) -> None:
    live_through(night)
    asked = "Write down the cause as you found it"
    assert any(each.text.startswith(asked) for each in night.newest().todo)
    desk = IncidentDesk(night.journal, lambda: night.now_ms)
    desk.note(1, "ana", "cause", "the fuse of the shed")
    desk.note(1, "ana", "cause", "the fuse of the whole street")
    desk.note(1, "ana", "outcome", "all eggs look well")
    found = night.newest()
    assert found.said("cause") == "the fuse of the whole street"
    assert not found.waits_for_review
    assert not any(each.text.startswith(asked) for each in found.todo)
    assert "Cause as it stood before: the fuse of the shed (ana, Fri 29 May 2026 09:00)" in " ".join(
        account_text(found).split()
    )


def test_what_is_venomous_comes_before_all_else(night: ToldNight) -> None:
    night.enter("Krait", "bungarus-multicinctus", SHELF)
    live_through(night)
    found = night.newest()
    assert found.clutches[0].review.label == "Krait"
    assert found.todo[0].first
    assert found.todo[0].about == "Krait"
    assert found.todo[0].text.startswith("Venomous: trained handlers only")
    assert not any(each.first for each in found.todo[1:])


def test_the_same_in_degree_fahrenheit(tmp_path: Path) -> None:
    with told_night(tmp_path, unit="F") as night:
        live_through(night)
        found = night.newest()
    text = " ".join(account_text(found).split())
    # 21.835 °C and 24 °C.
    assert "at the coldest 71.3 °F" in text
    assert "Lower limit, 75.2 °F: not kept." in text
    # Degree-hours stay as papers state them; a source is told as it is.
    said = " ".join([*found.summary, *(words for each in found.places for words in each.words)])
    assert "°C" not in said.replace("°C·h", "")
