"""The eggs of a clutch at their pages: one, several, by number alone, marks, and what is taken back."""

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from dashboards.register_eggs import MARKS_AT_ONCE
from tests.support.household import a_clutch
from tests.support.registered import FREE_BOX, SET_UP_MS, SHELF, RegisterHouse, field_of, register_house
from tests.support.upkept import error_beside, words


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RegisterHouse]:
    with register_house(tmp_path) as made:
        yield made


def states(house: RegisterHouse) -> dict[str, str]:
    """What every egg is that is not simply sound."""
    return {egg.name: egg.stated.words for egg in house.file().eggs if egg.stated.words != "sound"}


def test_an_egg_is_said_to_be_something_by_its_own_page(house: RegisterHouse) -> None:
    assert 'href="/clutches/1/eggs/3"' in house.look(house.path("eggs")).text
    fields = {"state": "removed", "reason": "mould", "at": "2026-06-20T10:00", "note": "grey <i>"}
    answer = house.send(house.path("eggs/3"), wanted="say", **fields)
    assert (answer.status_code, answer.headers["location"]) == (303, house.path("eggs"))
    assert states(house) == {"3": "removed: mould"}
    page = house.look(house.path("eggs")).text
    assert "7 sound, 1 lost" in words(page)
    assert "3 removed: mould 20 Jun" in words(page)
    # A word and a shape of its own, and no colour that only some can see.
    assert 'data-state="removed"' in page
    assert "#shape-gone" in page
    told = words(house.look(house.path("eggs/3")).text)
    assert "removed: mould . grey <i>" in told
    assert "Sat 20 Jun 2026, 10:00, by mara" in told


@pytest.mark.parametrize(
    ("fields", "field", "told"),
    [
        ({"state": ""}, "state", "Choose what it is"),
        ({"state": "eaten"}, "state", "not in the list"),
        ({"state": "removed"}, "reason", "Say why it is removed"),
        ({"state": "watch", "reason": "mould"}, "reason", "choose none"),
        ({"state": "removed", "reason": "other"}, "note", "nothing says what"),
        ({"state": "hatched", "at": "2026-06-26T16:01"}, "at", "is in the future"),
        ({"state": "hatched", "at": "2026-06-01"}, "at", "before it was laid"),
        ({"state": "watch", "at": "soon"}, "at", "is not a date"),
    ],
)
def test_what_cannot_be_said_of_an_egg_is_told_beside_its_field(
    house: RegisterHouse, fields: dict[str, str], field: str, told: str
) -> None:
    whole = {"state": "", "reason": "", "at": "", "note": "", **fields}
    answer = house.send(house.path("eggs/3"), wanted="say", **whole)
    assert answer.status_code == 422
    assert told in error_beside(answer.text, f"say-{field}")
    if fields["state"] not in ("", "eaten"):
        assert f'value="{fields["state"]}" checked' in answer.text
    assert states(house) == {}


def test_what_cannot_follow_is_refused_and_what_was_wrong_is_taken_back_first(house: RegisterHouse) -> None:
    fields = {"reason": "", "at": "", "note": "", "sure": "yes"}
    assert house.send(house.path("eggs/3"), wanted="say", state="hatched", **fields).status_code == 303
    refused = house.send(house.path("eggs/3"), wanted="say", state="sound", **fields)
    assert refused.status_code == 422
    assert "cannot be sound: it is hatched since" in words(refused.text)
    [event] = house.file().events
    form = {"wanted": f"take-back-{event.number}", "number": str(event.number), "why": "it was egg 4"}
    assert house.send(house.path("eggs/3"), **form).status_code == 303
    assert states(house) == {}
    page = words(house.look(house.path("eggs/3")).text)
    assert "hatched taken back" in page
    twice = house.send(house.path("eggs/3"), **form)
    assert twice.status_code == 422
    assert "was taken back already" in words(twice.text)
    assert "clutchwarden clutch" not in words(twice.text)


def test_hatching_before_any_egg_of_the_species_can_is_asked_about(house: RegisterHouse) -> None:
    """By the profile: T0 and K of the line, and the cap, which no warmth makes faster; hours = K / (cap - T0)."""
    line = house.profiles["elaphe-taeniura"].development
    assert line is not None
    fastest_ms = line.thermal_constant_ch / (line.cap_c - line.developmental_zero_c) * 3_600_000
    laid_ms = house.file().clutch.laid_from_ms
    early_days = math.ceil((laid_ms + fastest_ms - house.now_ms) / 86_400_000)
    assert early_days > 1
    fields = {"reason": "", "at": "", "note": "seen at noon"}
    asked = house.send(house.path("eggs/3"), wanted="say", state="hatched", **fields)
    assert asked.status_code == 422
    assert f"That is {early_days} days before" in error_beside(asked.text, "say-sure")
    assert field_of(asked.text, "say-note") == "seen at noon"
    assert states(house) == {}
    several = {"wanted": "several", "which": "1, 3-4", "count": "", "state": "hatched"}
    assert "days before" in error_beside(house.send(house.path("eggs"), **several, **fields).text, "several-sure")
    assert 'id="say-sure"' not in house.look(house.path("eggs/3")).text
    assert house.send(house.path("eggs"), **several, **fields, sure="yes").status_code == 303
    assert states(house) == {"1": "hatched", "3": "hatched", "4": "hatched"}
    # Where it can be, nobody is asked.
    house.now_ms = round(laid_ms + fastest_ms) + 1
    assert house.send(house.path("eggs/5"), wanted="say", state="hatched", **fields).status_code == 303


@pytest.mark.parametrize(("typed", "eggs"), [("2-4", "2 3 4"), ("1, 6 - 8", "1 6 7 8"), ("2\u20133;5", "2 3 5")])
def test_eggs_are_named_by_spans_as_well(house: RegisterHouse, typed: str, eggs: str) -> None:
    fields = {"wanted": "several", "reason": "", "at": "", "note": "", "count": "", "state": "watch"}
    assert house.send(house.path("eggs"), which=typed, **fields).status_code == 303
    assert set(states(house)) == set(eggs.split())


def test_several_eggs_are_named_or_only_counted_and_named_later(house: RegisterHouse) -> None:
    fields = {"wanted": "several", "reason": "", "at": "", "note": ""}
    assert house.send(house.path("eggs"), which="2, 5", count="", state="watch", **fields).status_code == 303
    assert states(house) == {"2": "on watch", "5": "on watch"}
    removed = {**fields, "reason": "mould"}
    assert house.send(house.path("eggs"), which="", count="3", state="removed", **removed).status_code == 303
    # The highest numbers of the sound ones: said so on the page.
    assert {name for name, words_ in states(house).items() if words_ == "removed: mould"} == {"6", "7", "8"}
    event = house.file().eggs[7].event
    assert event is not None
    assert "only how many was said" in words(house.look(house.path("eggs/8")).text)
    other = {"wanted": f"other-egg-{event.number}", "number": str(event.number)}
    missing = house.send(house.path("eggs/8"), **other, which="")
    assert "Choose the other egg" in error_beside(missing.text, f"other-egg-{event.number}-which")
    assert house.send(house.path("eggs/8"), **other, which="1").status_code == 303
    assert {name for name, words_ in states(house).items() if words_ == "removed: mould"} == {"1", "6", "7"}


@pytest.mark.parametrize(
    ("fields", "field", "told"),
    [
        ({"which": "", "count": ""}, "which", "Say which eggs, or how many"),
        ({"which": "1", "count": "2"}, "count", "not both"),
        ({"which": "1 99", "count": ""}, "which", "has no egg '99'"),
        ({"which": "", "count": "9"}, "count", "there are only 8"),
        ({"which": "", "count": "few"}, "count", "not a whole number"),
        ({"which": "", "count": "0"}, "count", "0 eggs are none"),
    ],
)
def test_more_or_other_eggs_than_there_are_are_refused(
    house: RegisterHouse, fields: dict[str, str], field: str, told: str
) -> None:
    whole = {"state": "removed", "reason": "collapsed", "at": "", "note": "dents", **fields}
    answer = house.send(house.path("eggs"), wanted="several", **whole)
    assert answer.status_code == 422
    assert told in error_beside(answer.text, f"several-{field}")
    assert field_of(answer.text, "several-note") == "dents"
    assert states(house) == {}


def test_marks_on_shells_name_eggs_and_are_refused_where_another_has_them(house: RegisterHouse) -> None:
    assert house.send(house.path("marks"), **{"mark-1": "A", "mark-2": "", "mark-3": "c3"}).status_code == 303
    assert [egg.name for egg in house.file().eggs[:3]] == ["A", "2", "c3"]
    # Only what was typed over is written: one entry for each.
    assert sum(change.what == "egg-marked" for change in house.file().changes) == 2
    taken = house.send(house.path("marks"), **{"mark-2": "a"})
    assert taken.status_code == 422
    assert "the mark a means egg 1 of Juniper already" in words(taken.text).lower().replace("juniper", "Juniper")
    assert field_of(taken.text, "marks-mark-2") == "a"
    own = house.send(house.path("eggs/2"), wanted="mark", mark_on_shell="has blank")
    assert "is no mark for an egg" in error_beside(own.text, "mark-mark_on_shell")
    assert house.send(house.path("eggs/1"), wanted="mark", mark_on_shell="").status_code == 303
    assert house.file().eggs[0].name == "1"


def test_marks_of_many_eggs_come_in_parts(house: RegisterHouse) -> None:
    number = house.enter(replace(a_clutch(SET_UP_MS, "Turtle", SHELF), egg_count=130))
    first, second = (house.look(house.path(f"marks{part}", number)).text for part in ("", "?first=101"))
    assert first.count('name="mark-') == MARKS_AT_ONCE
    assert second.count('name="mark-') == 30
    assert house.send(house.path("marks?first=101", number), **{"mark-130": "Z"}).status_code == 303
    assert house.file(number).eggs[129].name == "Z"
    assert len(house.look(house.path("eggs", number)).content) < 100_000


def test_of_a_closed_clutch_nothing_more_is_asked(house: RegisterHouse) -> None:
    number = house.another(place=FREE_BOX)
    house.send(house.path("close", number), hatched="8", lost="0", given_away="0", rest="")
    for what in ("eggs", "eggs/1", "marks"):
        page = house.look(house.path(what, number)).text
        assert "It is closed, with all its eggs accounted for" in words(page)
        assert 'class="asked"' not in page
    seen = str(house.desk.last_change(number))
    fields = {"which": "1", "count": "", "state": "watch", "reason": "", "at": "", "note": ""}
    late = house.send(house.path("eggs", number), seen=seen, wanted="several", **fields)
    assert late.status_code == 422
    assert "cannot be on watch: it is hatched since" in words(late.text)


def test_what_two_people_say_of_an_egg_is_not_mixed(house: RegisterHouse) -> None:
    old = house.desk.last_change(house.clutch)
    house.desk.say_of_eggs(house.clutch, "watch", ["3"], "ben")
    fields = {"wanted": "say", "state": "removed", "reason": "mould", "at": "", "note": ""}
    answer = house.send(house.path("eggs/3"), seen=str(old), **fields)
    assert answer.status_code == 409
    assert "Ben changed this clutch" in words(answer.text)
    assert states(house) == {"3": "on watch"}


def test_an_egg_or_a_button_that_is_not_there_does_nothing(house: RegisterHouse) -> None:
    for name in ("0", "9", "x"):
        assert house.look(house.path(f"eggs/{name}")).status_code == 404
        assert house.send(house.path(f"eggs/{name}"), wanted="say", state="watch").status_code == 404
    assert house.send(house.path("eggs/1"), wanted="fly").status_code == 400
    assert states(house) == {}
