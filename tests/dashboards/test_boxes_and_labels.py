"""The page of a box and its label: what they say, where they lead, and what is said where nothing can be."""

import re
import uuid
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
import segno

from daemon.rounds.values import Entry, Lid, Medium, Stored
from dashboards import labels
from dashboards.labels import LEAST_MODULE_MM, QUIET, SIZES, code_of
from tests.support.household import a_clutch
from tests.support.registered import BOX, FREE_BOX, LAST_BOX, SET_UP_MS, SHELF, VIEWER, RegisterHouse, register_house
from tests.support.upkept import words

START = "https://eggs.example.org"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RegisterHouse]:
    with register_house(tmp_path) as made:
        yield made


def links(html: str) -> dict[str, str]:
    """Where the links of a page lead, by their ids."""
    return {id_: unescape(path) for id_, path in re.findall(r'<a id="([\w-]+)"[^>]* href="([^"]*)"', html)}


def test_a_box_says_what_lies_in_it_and_leads_on(house: RegisterHouse) -> None:
    page = house.look(f"/boxes/{BOX}")
    told = words(page.text)
    assert "Juniper North cabinet, upper shelf, box N1" in told
    assert "Eggs: 8 sound" in told
    assert "Nobody has written down yet what was found here." in told
    assert links(page.text)["to-clutch"] == house.path()
    assert links(page.text)["to-start"] == "/rounds"
    assert links(house.look(house.path()).text)["to-box"] == f"/boxes/{BOX}"


def test_an_empty_box_leads_to_a_new_clutch_in_it(house: RegisterHouse) -> None:
    page = house.look(f"/boxes/{LAST_BOX}")
    assert "Empty box" in words(page.text)
    path = links(page.text)["enter-here"]
    assert f'value="{LAST_BOX}" checked' in house.look(path).text
    assert "enter-here" not in links(house.look(f"/boxes/{LAST_BOX}", house.pages(VIEWER)).text)


def test_while_a_round_goes_on_a_box_leads_into_it_and_tells_what_was_found(house: RegisterHouse) -> None:
    started = house.rounds.start("ben", ["north"])
    number = started.rounds[0].number  # type: ignore[union-attr]
    path = links(house.look(f"/boxes/{BOX}").text)["to-round"]
    assert path == f"/rounds/{number}/box/{BOX}"
    assert house.look(path).status_code == 200
    entry = Entry(
        str(uuid.uuid4()), BOX, "ben", "phone", 1, house.now_ms, medium=Medium.DRY, lid=Lid.BEADS, remark="smells <i>"
    )
    assert isinstance(house.rounds.enter(number, entry), Stored)
    page = house.look(f"/boxes/{BOX}")
    assert "Fri 26 Jun 2026, 16:00" in words(page.text)
    assert "medium dry" in words(page.text).lower()
    assert "smells &lt;i&gt;" in page.text


def test_a_venomous_clutch_is_flagged_first_and_no_hand_is_asked_for(house: RegisterHouse) -> None:
    house.another(venomous=True)
    page = house.look(f"/boxes/{FREE_BOX}").text
    assert page.index("Venomous: trained handlers only.") < page.index("<h1")
    assert "to-move" not in links(page)
    sheet = words(house.look(f"/labels/sheet?on={FREE_BOX}").text)
    assert "Venomous" in sheet
    assert "Venomous" not in words(house.look(f"/labels/sheet?on={BOX}").text)


def test_more_labels_than_a_sheet_takes_at_once_are_refused_on_a_page_with_a_way_back(house: RegisterHouse) -> None:
    answer = house.look(f"/labels/sheet?on={BOX}" + f"&on={FREE_BOX}" * 400)
    assert answer.status_code == 422
    assert "More than 400 labels were chosen at once" in words(answer.text)
    assert links(answer.text)["back"] == "/labels"
    assert house.look(f"/labels/sheet?on={BOX}" + f"&on={FREE_BOX}" * 399).status_code == 200


@pytest.mark.parametrize(
    "place", ["north/upper/N9", "north/upper", "north", "x", "north/upper/N1/", "north//N1", "<i>"]
)
def test_a_box_that_is_not_there_is_not_found_with_a_way_back(house: RegisterHouse, place: str) -> None:
    answer = house.look(f"/boxes/{place}")
    assert answer.status_code == 404
    assert 'href="/boxes"' in answer.text


def test_all_boxes_are_there_with_what_they_hold(house: RegisterHouse) -> None:
    house.enter(a_clutch(SET_UP_MS, "Shelved", SHELF))
    page = house.look("/boxes")
    told = words(page.text)
    assert "North cabinet upper shelf N1 Juniper N2 empty by the door empty" in told
    assert "On the shelf, without a box: Shelved" in told
    for path in (path for id_, path in links(page.text).items() if id_.startswith("box-")):
        assert house.look(path).status_code == 200


def test_a_label_says_what_lies_there_and_when_it_was_laid(house: RegisterHouse) -> None:
    page = house.look(f"/labels/sheet?on={BOX}&on={FREE_BOX}&size=letter-3x8").text
    told = words(page)
    assert "N1 North cabinet, upper shelf Juniper" in told
    assert "Juniper Elaphe taeniura Laid" in told
    large = words(house.look(f"/labels/sheet?on={BOX}&size=a4-2x5").text)
    assert "beauty snake (Elaphe taeniura) Laid" in large
    # Two days and one day before the set-up at 16:00 on 16 June.
    assert "Laid 14 Jun to 15 Jun 2026" in told
    assert "Due" in told
    assert f'aria-label="Code for {START}/boxes/{BOX}"' in page
    assert page.count("<article") == 2
    assert "on-letter of-3x8" in page


def test_a_clutch_without_a_box_has_a_label_that_leads_to_its_page(house: RegisterHouse) -> None:
    number = house.enter(a_clutch(SET_UP_MS, "Shelved", SHELF))
    page = house.look(f"/labels/sheet?on=clutch-{number}").text
    assert f'aria-label="Code for {START}/clutches/{number}"' in page


def test_without_a_public_address_codes_lead_to_the_one_that_was_used(tmp_path: Path) -> None:
    with register_house(tmp_path, public_url=None) as house:
        assert "Code for http://pages/boxes/" in house.look(f"/labels/sheet?on={BOX}").text
        assert "A phone cannot follow" not in words(house.look("/labels").text)


def test_an_address_of_this_machine_alone_is_said_to_be_of_no_use(tmp_path: Path) -> None:
    with register_house(tmp_path, public_url="http://127.0.0.1:8330") as house:
        for path in ("/labels", f"/labels/sheet?on={BOX}"):
            told = words(house.look(path).text)
            assert "A phone cannot follow these codes. http://127.0.0.1:8330 is this machine itself." in told
            assert "public_url" in told


def test_an_address_that_is_too_long_for_the_sheet_is_refused(tmp_path: Path) -> None:
    with register_house(tmp_path, public_url=f"https://{'eggs-' * 45}x.example.org") as house:
        small = house.look(f"/labels/sheet?on={BOX}&size=a4-3x8")
        assert small.status_code == 422
        assert "is too long for a code that a phone can read" in words(small.text)
        assert "<article" not in small.text
        assert house.look(f"/labels/sheet?on={BOX}&size=a4-2x5").status_code == 200


def test_no_box_chosen_is_said(house: RegisterHouse) -> None:
    for path in ("/labels/sheet", "/labels/sheet?on=north/upper/N9&size=x"):
        answer = house.look(path)
        assert answer.status_code == 422
        assert "No box was chosen" in words(answer.text)


def test_a_code_is_drawn_module_for_module_with_its_quiet_zone() -> None:
    # Two dark modules side by side are one stroke, and four modules of white lie around.
    assert code_of([(1, 1, 0), (0, 0, 0), (0, 0, 1)]).squares == f"M{QUIET} {QUIET}h2v1h-2zM6 6h1v1h-1z"
    assert code_of([(1, 1, 0), (0, 0, 0), (0, 0, 1)]).size == 11


def test_modules_of_a_usual_address_are_wide_enough_on_every_sheet() -> None:
    made = segno.make(f"{START}/boxes/north-cabinet/upper-shelf/N12", error="m", micro=False)
    assert made.error in ("M", "Q", "H")
    for size in SIZES:
        assert labels.module_mm(code_of(made.matrix), size) >= LEAST_MODULE_MM
