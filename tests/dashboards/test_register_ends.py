"""Ending clutches at their pages, opening them again, notes and sizes; and who may do what."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from daemon.clutches.eggs import EggState
from tests.support.registered import RESPONDER, VIEWER, RegisterHouse, field_of, register_house
from tests.support.upkept import error_beside, words

TEN_ON_20_JUNE_MS = round(datetime(2026, 6, 20, 10, tzinfo=ZoneInfo("Europe/Madrid")).timestamp() * 1000)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RegisterHouse]:
    with register_house(tmp_path) as made:
        yield made


def test_closing_is_filled_in_from_the_eggs_and_asks_for_the_rest(house: RegisterHouse) -> None:
    for state, which in (("hatched", ["1", "2"]), ("removed:mould", ["3"])):
        house.desk.say_of_eggs(house.clutch, state, which, "test")
    page = house.look(house.path("close")).text
    assert [field_of(page, f"close-{name}") for name in ("hatched", "lost", "given_away")] == ["2", "1", "0"]
    refused = house.send(house.path("close"), hatched="2", lost="1", given_away="0", rest="", why="season")
    assert refused.status_code == 422
    told = error_beside(refused.text, "close-rest")
    assert "nobody has said what became of 5 of the 8 eggs" in told.lower()
    assert "--" not in told
    assert field_of(refused.text, "close-why") == "season"
    too_many = house.send(house.path("close"), hatched="9", lost="0", given_away="0", rest="")
    assert "are 9 eggs, and Juniper has 8" in error_beside(too_many.text, "close-hatched")
    fewer = house.send(house.path("close"), hatched="6", lost="0", given_away="0", rest="")
    assert "1 are on record as lost" in error_beside(fewer.text, "close-lost")
    assert house.file().clutch.is_open
    done = house.send(house.path("close"), hatched="6", lost="1", given_away="0", rest="removed:infertile")
    assert done.status_code == 303
    counts = house.file().counts
    assert (counts.hatched, counts.lost, counts.open) == (6, 2, 0)
    assert "Closed." in words(house.look(house.path()).text)


def test_opening_again_and_withdrawing_are_for_keepers_and_taken_back_by_them(house: RegisterHouse) -> None:
    ben = house.pages(RESPONDER)
    assert house.send(house.path("close"), ben, hatched="8", lost="0", given_away="0", rest="").status_code == 303
    for what in ("reopen", "withdraw"):
        assert "Only a keeper" in words(house.look(house.path(what), ben).text)
        assert house.send(house.path(what), ben, why="mistake", sure="yes").status_code == 403
    assert not house.file().clutch.is_open
    nothing_said = house.send(house.path("reopen"), why="")
    assert "nothing says why" in error_beside(nothing_said.text, "reopen-why").lower()
    assert house.send(house.path("reopen"), why="one is alive").status_code == 303
    assert house.file().clutch.is_open
    assert {each.stated.state for each in house.file().eggs} == {EggState.SOUND}
    unsure = house.send(house.path("withdraw"), why="was entered by mistake")
    assert "Tick this" in error_beside(unsure.text, "withdraw-sure")
    gone = house.send(house.path("withdraw"), why="a double", sure="yes")
    assert (gone.status_code, gone.headers["location"]) == (303, house.path("reopen"))
    page = words(house.look(house.path("reopen")).text)
    assert "It was withdrawn by mara: a double" in page
    # Its other pages lead there, and it is listed with the tables.
    for what in ("", "edit", "eggs", "eggs/1", "marks", "notes", "sizes", "move", "close"):
        assert house.look(house.path(what)).headers["location"] == house.path("reopen")
    assert "Juniper" in words(house.look("/clutches/table").text)
    assert house.send(house.path("reopen"), why="it is there").status_code == 303
    assert house.file().clutch.is_open


def test_viewers_read_and_are_shown_no_form(house: RegisterHouse) -> None:
    eve = house.pages(VIEWER)
    for path in ("/clutches/new", "/clutches/table", *map(house.path, ("edit", "move", "close", "eggs", "eggs/1"))):
        page = house.look(path, eve)
        assert page.status_code == 200
        assert "You may read." in words(page.text)
        assert 'class="asked"' not in page.text
    assert "Enter a clutch" not in house.look("/clutches", eve).text
    for path in ("/clutches/new", house.path("eggs"), house.path("notes"), house.path("move")):
        assert house.send(path, eve, label="x").status_code == 403


def test_notes_are_written_corrected_and_taken_back_and_stay_on_record(house: RegisterHouse) -> None:
    empty = house.send(house.path("notes"), wanted="note", text=" ", at="")
    assert "the note is empty" in error_beside(empty.text, "note-text").lower()
    assert house.send(house.path("notes"), wanted="note", text="pale <i>", at="2026-06-20T10:00").status_code == 303
    [note] = house.file().notes
    assert (note.at_ms, note.who) == (TEN_ON_20_JUNE_MS, "mara")
    assert "pale &lt;i&gt;" in house.look(house.path("notes")).text
    fields = {"wanted": f"correct-{note.number}", "number": str(note.number), "at": "2026-06-20T10:00"}
    assert house.send(house.path("notes"), **fields, text="paler").status_code == 303
    [corrected] = house.file().notes
    assert (corrected.text, corrected.at_ms) == ("paler", note.at_ms)
    gone = house.send(house.path("notes"), **fields, text="once more")
    assert gone.status_code == 422
    assert "has no note number" in words(gone.text)
    again = {**fields, "number": str(corrected.number), "wanted": f"correct-{corrected.number}"}
    assert house.send(house.path("notes"), **again, text="").status_code == 303
    assert house.file().notes == ()
    assert "pale" in words(house.look(house.path()).text)


def test_sizes_say_how_far_eggs_have_swollen(house: RegisterHouse) -> None:
    nothing_given = house.send(house.path("sizes"), wanted="size", mass_g="", eggs="1", length_mm="", egg="", at="")
    assert "no size is given" in error_beside(nothing_given.text, "size-mass_g").lower()
    for mass, day in (("10", "2026-06-17"), ("14", "2026-06-25")):
        fields = {"mass_g": mass, "eggs": "1", "length_mm": "", "egg": "3", "at": day}
        assert house.send(house.path("sizes"), wanted="size", **fields).status_code == 303
    page = words(house.look(house.path("sizes")).text)
    assert "Egg 3 has 1.40 times its first mass" in page
    assert "common practice, no source" in page
    last = house.file().measures[-1]
    fields = {"wanted": f"take-back-{last.number}", "number": str(last.number), "why": "the scales were wet"}
    assert house.send(house.path("sizes"), **fields).status_code == 303
    assert "taken back" in words(house.look(house.path("sizes")).text)
    too_many = house.send(house.path("sizes"), wanted="size", mass_g="80", eggs="9", length_mm="", egg="", at="")
    assert "the clutch has 8" in error_beside(too_many.text, "size-eggs")


def test_the_page_of_a_venomous_or_protected_clutch_says_so_first(house: RegisterHouse) -> None:
    number = house.another(venomous=True)
    house.desk.edit(number, {"protected": "Annex B <x>", "dam": "Rosa", "tags": ("pale",)}, "test")
    for what in ("", "edit", "eggs", "eggs/1", "marks", "notes", "sizes", "move", "close", "withdraw"):
        page = house.look(house.path(what, number)).text
        assert page.index("Venomous: trained handlers only.") < page.index("<h1"), what
        assert "Venomous: trained" not in house.look(house.path(what)).text
    told = words(house.look(house.path("", number)).text)
    assert "Protected. Annex B <x>" in told
    assert "Dam Rosa" in told
    assert "Tags pale" in told


@pytest.mark.parametrize("what", ["edit", "move", "close", "reopen", "withdraw", "eggs", "eggs/1", "marks", "notes"])
def test_a_clutch_that_is_not_there_has_no_pages(house: RegisterHouse, what: str) -> None:
    for number in ("99", "x", "9" * 30, "-1"):
        answer = house.look(f"/clutches/{number}/{what}")
        assert answer.status_code == 404
        assert 'href="/clutches"' in answer.text
        assert house.send(f"/clutches/{number}/{what}", wanted="edit").status_code == 404
