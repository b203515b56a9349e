"""Contacts in the site file: where they belong, what they do not have, and what a device may call its states."""

from pathlib import Path

import pytest

from config.check import check_site

SITE = """
[site]
name = "Contacts"
time_zone = "UTC"
[[incubator]]
id = "north"
name = "North cabinet"
[[incubator.zone]]
id = "upper"
name = "upper shelf"
[[probe]]
id = "air"
place = "north/upper"
[[probe.channel]]
name = "t"
quantity = "air_temperature"
[[person]]
id = "ana"
name = "Ana"
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/phone"
[[probe]]
id = "contact"
place = "{place}"
[[probe.channel]]
name = "state"
quantity = "{quantity}"
"""
SOURCE = """
[[probe.source]]
topic = "hall/contact"
channel = "state"
unit = "{unit}"
"""


def said(folder: Path, quantity: str, place: str, more: str = "") -> list[str]:
    text = SITE.format(quantity=quantity, place=place) + more
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return [str(each) for each in check_site(folder).mistakes]


@pytest.mark.parametrize(("quantity", "place"), [("mains", "room"), ("mains", "north"), ("door", "north")])
def test_a_contact_is_taken_where_it_belongs_without_a_word(tmp_path: Path, quantity: str, place: str) -> None:
    """Also no warning: a contact in the room is not asked for the temperature there."""
    assert said(tmp_path, quantity, place) == []


@pytest.mark.parametrize(
    ("quantity", "place", "words"),
    [
        ("door", "room", "a door contact belongs to a whole incubator, not to room"),
        ("door", "north/upper", "a door contact belongs to a whole incubator, not to north/upper"),
        ("mains", "north/upper", 'a mains contact belongs to a whole incubator or "room", not to north/upper'),
    ],
)
def test_a_contact_elsewhere_is_refused(tmp_path: Path, quantity: str, place: str, words: str) -> None:
    (found,) = said(tmp_path, quantity, place)
    assert words in found
    assert "Make it a probe of its own" in found


def test_a_contact_has_no_accuracy(tmp_path: Path) -> None:
    (found,) = said(tmp_path, "door", "north", "accuracy = 0.5\n")
    assert "a door contact says one of two things and has no accuracy" in found
    assert "Leave accuracy out." in found


@pytest.mark.parametrize("unit", ["/", "inverted"])
def test_a_foreign_contact_says_one_for_open_or_the_other_way_round(tmp_path: Path, unit: str) -> None:
    assert said(tmp_path, "door", "north", SOURCE.format(unit=unit)) == []


@pytest.mark.parametrize("unit", ["Cel", "percent", "%RH"])
def test_a_contact_has_no_unit_of_air(tmp_path: Path, unit: str) -> None:
    (found,) = said(tmp_path, "door", "north", SOURCE.format(unit=unit))
    assert f'"{unit}" is not a unit of door' in found
    assert '"inverted" where it is closed or absent' in found


@pytest.mark.parametrize("unit", ["inverted", "/"])
def test_a_temperature_has_no_unit_of_a_contact(tmp_path: Path, unit: str) -> None:
    (found,) = said(tmp_path, "surface_temperature", "north", SOURCE.format(unit=unit))
    assert f'"{unit}" is not a unit of surface temperature' in found


@pytest.mark.parametrize("scale", ["2.0", "-1.0"])
def test_a_contact_has_no_scale(tmp_path: Path, scale: str) -> None:
    (found,) = said(tmp_path, "mains", "room", SOURCE.format(unit="/") + f"scale = {scale}\n")
    assert "a contact is 0 or 1 and has no scale" in found


def test_two_contacts_of_one_incubator_are_one_too_many(tmp_path: Path) -> None:
    second = '[[probe]]\nid = "other"\nplace = "north"\n[[probe.channel]]\nname = "d"\nquantity = "door"\n'
    (found,) = said(tmp_path, "door", "north", second)
    assert "both measure door at north: which one counts?" in found


def test_an_incubator_with_nothing_but_a_contact_is_not_watched(tmp_path: Path) -> None:
    text = SITE.format(quantity="door", place="south") + '[[incubator]]\nid = "south"\nname = "South cabinet"\n'
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    (found,) = (str(each) for each in check_site(tmp_path).mistakes)
    assert "no probe is in this incubator, so nothing watches it" in found
