"""Entering, correcting and moving clutches at their pages: what is kept, and what is told beside the field."""

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tests.support.registered import (
    BOX,
    FREE_BOX,
    LAST_BOX,
    NOW_MS,
    SET_UP_MS,
    SHELF,
    RegisterHouse,
    field_of,
    register_house,
)
from tests.support.upkept import error_beside, hidden, words

MADRID = ZoneInfo("Europe/Madrid")
NEW = {
    "label": "Ada <i>1</i>",
    "species": "taeniura",
    "egg_count": "9",
    "laid_from": "2026-06-20",
    "laid_to": "2026-06-21",
    "set_up": "2026-06-22T09:30",
    "place": FREE_BOX,
    "dam": "Rosa",
    "kept_at": "24,5",
    "tags": "pale, second",
    "note": "first line\r\nsecond",
    "mass_g": "12.5",
    "wanted": "enter",
}


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RegisterHouse]:
    with register_house(tmp_path) as made:
        yield made


def at_ms(text: str) -> int:
    """A moment on a clock in Madrid, UTC ms."""
    return round(datetime.fromisoformat(text).replace(tzinfo=MADRID).timestamp() * 1000)


def test_a_clutch_is_entered_with_all_that_was_typed_and_by_whom(house: RegisterHouse) -> None:
    answer = house.send("/clutches/new", **NEW)
    assert (answer.status_code, answer.headers["location"]) == (303, "/clutches/2")
    found = house.file(2)
    clutch = found.clutch
    assert (clutch.label, clutch.species_id, clutch.egg_count) == ("Ada <i>1</i>", "elaphe-taeniura", 9)
    assert clutch.laid_from_ms == at_ms("2026-06-20T00:00")
    assert clutch.laid_to_ms == at_ms("2026-06-21T23:59:59")
    assert (clutch.set_up_ms, clutch.placements[0].place) == (at_ms("2026-06-22T09:30"), FREE_BOX)
    assert (clutch.dam, clutch.tags, clutch.before_c, clutch.note) == (
        "Rosa",
        ("pale", "second"),
        24.5,
        "first line\nsecond",
    )
    assert [each.measured.mass_g for each in found.measures] == [12.5]
    assert {each.who for each in found.changes} == {"mara"}
    page = house.look("/clutches/2").text
    assert "Ada &lt;i&gt;1&lt;/i&gt;" in page
    assert "<i>1</i>" not in page


def test_what_is_left_empty_means_now_and_the_one_day_of_laying(house: RegisterHouse) -> None:
    fields = {name: NEW[name] for name in ("label", "species", "egg_count", "place")}
    assert house.send("/clutches/new", **fields, laid_from="2026-06-26").status_code == 303
    clutch = house.file(2).clutch
    assert (clutch.laid_from_ms, clutch.laid_to_ms) == (at_ms("2026-06-26T00:00"), NOW_MS)
    assert (clutch.set_up_ms, clutch.before_c, clutch.found_ms, clutch.tags) == (NOW_MS, None, None, ())


@pytest.mark.parametrize(
    ("fields", "field", "told"),
    [
        ({"label": " "}, "label", "Give it a label"),
        ({"label": "juniper"}, "label", "is taken by the clutch in North cabinet, upper shelf, box N1"),
        ({"species": ""}, "species", "Choose a species"),
        ({"species": "unicorn"}, "species", "No species has this in its names"),
        ({"species": "python"}, "species", "Write more of the name"),
        ({"egg_count": "0"}, "egg_count", "at least 1"),
        ({"egg_count": "nine"}, "egg_count", "not a whole number"),
        ({"egg_count": "501"}, "egg_count", "more than any clutch has"),
        ({"laid_from": ""}, "laid_from", "Say when it was laid"),
        ({"laid_from": "yesterday"}, "laid_from", "is not a date"),
        ({"laid_from": "2026-06-27", "laid_to": ""}, "laid_from", "is in the future"),
        ({"laid_from": "2026-06-22"}, "laid_from", "ends before it begins"),
        ({"laid_to": "2026-06-27"}, "laid_from", "is in the future"),
        ({"set_up": "2026-06-19T09:30"}, "set_up", "before it can have been laid"),
        ({"set_up": "2026-06-26T16:01"}, "set_up", "is in the future"),
        ({"found": "2026-06-19"}, "found", "before it can have been laid"),
        ({"place": ""}, "place", "Choose where it lies"),
        ({"place": "north/upper/N9"}, "place", "There is no place north/upper/N9"),
        ({"place": BOX}, "place", "holds Juniper since Tue 16 Jun 2026, 16:00"),
        ({"kept_at": "warm"}, "kept_at", "not a number"),
        ({"kept_at": "60"}, "kept_at", "0 to 45"),
        ({"kept_within": "20"}, "kept_within", "0 to 10 °C"),
        ({"tags": "x" * 41}, "tags", "too long"),
        ({"mass_g": "-3"}, "mass_g", "not the size of an egg"),
        ({"length_mm": "900"}, "length_mm", "not the size of an egg"),
        ({"note": "x" * 2001}, "note", "longer than 2000"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field_with_everything_else_kept(
    house: RegisterHouse, fields: dict[str, str], field: str, told: str
) -> None:
    answer = house.send("/clutches/new", **{**NEW, **fields})
    assert answer.status_code == 422
    assert told in error_beside(answer.text, f"enter-{field}")
    assert field_of(answer.text, "enter-dam") == "Rosa"
    if field != "place":
        assert f'value="{FREE_BOX}" checked' in answer.text
    assert len(house.desk.all()) == 1


def test_each_species_is_found_by_any_part_of_its_names(house: RegisterHouse) -> None:
    page = house.look("/clutches/new").text
    for profile in house.profiles.values():
        assert f"({profile.scientific_name})" in page
    for number, typed in enumerate(("ELAPHE TAENIURA", "elaphe-taeniura", "beauty snake"), 1):
        fields = {**NEW, "label": f"Clutch {number}", "place": SHELF, "species": typed}
        assert house.send("/clutches/new", **fields).status_code == 303
        assert house.file(number + 1).clutch.species_id == "elaphe-taeniura"


def test_a_link_that_proposes_a_place_and_a_species_has_them_chosen(house: RegisterHouse) -> None:
    page = house.look(f"/clutches/new?species=elaphe-taeniura&place={FREE_BOX}").text
    assert f'value="{FREE_BOX}" checked' in page
    name = house.profiles["elaphe-taeniura"].scientific_name
    assert re.search(rf'<input id="enter-species" name="species" value="[^"]*{name}', page)
    assert "no-such" not in house.look("/clutches/new?species=no-such&place=no-such").text
    assert f'value="{FREE_BOX}" checked' in house.look(f"/clutches/1/move?place={FREE_BOX}").text
    assert " checked" not in house.look("/clutches/1/move?place=no-such").text


def test_the_form_shows_free_boxes_and_by_what_heat_is_counted_there(house: RegisterHouse) -> None:
    page = house.look(f"/clutches/new?place={FREE_BOX}").text
    assert f'value="{FREE_BOX}" checked' in page
    assert f'value="{BOX}" disabled' in page
    told = words(page)
    assert "N1 holds Juniper" in told
    assert "by the door free" in told
    assert "upper shelf heat is counted by probe north-air, right there" in told
    assert "lower shelf no probe measures the air there, so no heat is counted" in told


def _a_day_later(typed: str) -> str:
    return (datetime.fromisoformat(typed) + timedelta(days=1)).isoformat(timespec="minutes")


def test_a_correction_changes_what_was_typed_over_alone_and_keeps_what_stood_there(house: RegisterHouse) -> None:
    before = house.file().clutch
    shown = house.look(house.path("edit")).text
    sent = {
        name: field_of(shown, f"edit-{name}")
        for name in ("label", "species", "egg_count", "laid_from", "laid_to", "set_up", "note", "kept_at")
    }
    answer = house.send(house.path("edit"), **{**sent, "label": "Jo", "note": "a\r\nb", "why": "misread"})
    assert answer.status_code == 303
    after = house.file().clutch
    assert (after.label, after.note) == ("Jo", "a\nb")
    # The form shows days and minutes; what is on record is more exact, and stays.
    assert (after.laid_from_ms, after.laid_to_ms, after.set_up_ms) == (
        before.laid_from_ms,
        before.laid_to_ms,
        before.set_up_ms,
    )
    # A set-up that was a day later than it was entered.
    later = house.send(house.path("edit"), **{**sent, "label": "Jo", "set_up": _a_day_later(sent["set_up"])})
    assert later.status_code == 303
    assert house.file().clutch.set_up_ms - before.set_up_ms == pytest.approx(86_400_000, abs=60_000)
    page = words(house.look(house.path()).text)
    assert "Corrected by mara" in page
    assert "label: Juniper → Jo" in page
    assert "Why: misread" in page


@pytest.mark.parametrize(
    ("fields", "field", "told"),
    [
        ({"label": ""}, "label", "cannot be empty"),
        ({"laid_from": ""}, "laid_from", "cannot be empty"),
        ({"label": "Bea"}, "label", "is taken"),
        ({"egg_count": "4"}, "egg_count", "something is on record of egg 5"),
        ({"set_up": "2036-06-20T09:00"}, "set_up", "is in the future"),
        ({"species": "no such"}, "species", "No species"),
        ({"laid_from": "2026-06-20"}, "laid_from", "ends before it begins"),
    ],
)
def test_a_correction_that_cannot_be_is_refused_beside_its_field(
    house: RegisterHouse, fields: dict[str, str], field: str, told: str
) -> None:
    house.another()
    house.desk.say_of_eggs(house.clutch, "watch", ["5"], "test")
    before = house.file().clutch
    shown = house.look(house.path("edit")).text
    sent = {name: field_of(shown, f"edit-{name}") for name in ("label", "egg_count", "laid_from", "laid_to")}
    answer = house.send(house.path("edit"), **{**sent, **fields})
    assert answer.status_code == 422
    assert told in error_beside(answer.text, f"edit-{field}")
    assert house.file().clutch == before


def test_what_comes_from_an_older_page_is_not_kept_and_says_who_was_first(house: RegisterHouse) -> None:

    mark = hidden(house.look(house.path("edit")).text)["mark"]
    house.now_ms += 60_000
    house.desk.note(house.clutch, "seen by Ben", "ben")
    answer = house.send(house.path("edit"), seen=mark, label="Jo", why="")
    assert answer.status_code == 409
    told = words(answer.text)
    assert "Ben changed this clutch on Fri 26 Jun 2026, 16:01, after this page was made" in told
    assert field_of(answer.text, "edit-label") == "Jo"
    assert house.file().clutch.label == "Juniper"
    # The page has the mark of now: sent once more, it is kept.
    again = house.send(house.path("edit"), seen=hidden(answer.text)["mark"], label="Jo", why="")
    assert again.status_code == 303
    assert house.file().clutch.label == "Jo"


def test_a_form_without_its_guard_changes_nothing(house: RegisterHouse) -> None:
    answer = house.send(house.path("close"), guard="another", hatched="8", lost="0", given_away="0")
    assert answer.status_code == 403
    assert house.file().clutch.is_open


def test_a_move_may_lie_in_the_past_and_says_by_what_heat_is_counted(house: RegisterHouse) -> None:
    page = words(house.look(house.path("move")).text)
    assert "It lies in North cabinet, upper shelf, box N1: heat is counted by probe north-air" in page
    answer = house.send(house.path("move"), wanted="move", place=LAST_BOX, at="2026-06-20T12:00", why="draught")
    assert answer.status_code == 303
    stays = house.file().clutch.placements
    assert [tuple(each) for each in stays] == [(BOX, SET_UP_MS), (LAST_BOX, at_ms("2026-06-20T12:00"))]


def test_where_it_lies_is_shown_and_cannot_be_chosen_and_nobody_swaps_alone(house: RegisterHouse) -> None:
    page = house.look(house.path("move")).text
    own = re.search(r'<input type="radio"[^>]*value="north/upper/N1"([^>]*)>(.*?)</label>', page, re.DOTALL)
    assert own is not None
    assert "disabled" in own[1]
    assert "lies here now" in words(own[2])
    assert "Swap boxes" not in page
    house.another()
    assert "Swap boxes" in house.look(house.path("move")).text


@pytest.mark.parametrize(
    ("fields", "field", "told"),
    [
        ({"place": ""}, "place", "Choose where it goes"),
        ({"place": FREE_BOX}, "place", "holds Bea since"),
        ({"place": BOX}, "place", "lies in North cabinet, upper shelf, box N1 already"),
        ({"place": LAST_BOX, "at": "2026-06-01"}, "at", "it was set up on Tue 16 Jun 2026, 16:00"),
        ({"place": LAST_BOX, "at": "2026-06-26T16:01"}, "at", "is in the future"),
        ({"place": LAST_BOX, "at": "soon"}, "at", "is not a date"),
    ],
)
def test_a_move_that_cannot_be_is_refused_beside_its_field(
    house: RegisterHouse, fields: dict[str, str], field: str, told: str
) -> None:
    house.another()
    answer = house.send(house.path("move"), wanted="move", at=fields.get("at", ""), place=fields["place"])
    assert answer.status_code == 422
    assert told in error_beside(answer.text, f"move-{field}")
    assert len(house.file().clutch.placements) == 1


def test_two_clutches_swap_their_boxes_in_one_step(house: RegisterHouse) -> None:
    bea = house.another()
    assert house.send(house.path("move"), wanted="swap", other=str(bea), at="").status_code == 303
    assert house.file().clutch.placements[-1] == (FREE_BOX, NOW_MS)
    assert house.file(bea).clutch.placements[-1] == (BOX, NOW_MS)
    missing = house.send(house.path("move"), wanted="swap", other="", at="")
    assert "Choose the other clutch" in error_beside(missing.text, "swap-other")
