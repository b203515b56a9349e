"""Two people correct one clutch at the same time: neither writes back what the other has changed."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.registered import RegisterHouse, field_of, register_house
from tests.support.upkept import error_beside, hidden

NAMES = ("label", "species", "egg_count", "laid_from", "laid_to", "set_up", "found", "dam", "sire", "note")


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RegisterHouse]:
    with register_house(tmp_path) as made:
        yield made


def filled(page: str, **typed: str) -> dict[str, str]:
    """What a browser sends of the form on a page, with what was typed over."""
    return {**hidden(page), **{name: field_of(page, f"edit-{name}") for name in NAMES}, "wanted": "edit", **typed}


def press(house: RegisterHouse, page: str, **typed: str) -> tuple[int, str]:
    fields = filled(page, **typed)
    answer = house.send(house.path("edit"), seen=fields.pop("mark"), **fields)
    return answer.status_code, answer.text


def test_a_second_press_does_not_write_back_what_somebody_else_has_corrected(house: RegisterHouse) -> None:
    page = house.look(house.path("edit")).text
    house.desk.edit(house.clutch, {"egg_count": 9, "note": "nine,\ncounted twice"}, "ana", "")
    status, again = press(house, page, label="Jo")
    assert status == 409
    assert [field_of(again, f"edit-{name}") for name in ("label", "egg_count")] == ["Jo", "9"]
    status, _ = press(house, again)
    assert status == 303
    clutch = house.file().clutch
    assert (clutch.label, clutch.egg_count, clutch.note) == ("Jo", 9, "nine,\ncounted twice")


def test_what_both_have_changed_stays_as_typed_and_the_other_value_is_told_beside_it(house: RegisterHouse) -> None:
    page = house.look(house.path("edit")).text
    house.desk.edit(house.clutch, {"egg_count": 9}, "ana", "")
    status, again = press(house, page, egg_count="10")
    assert status == 409
    assert field_of(again, "edit-egg_count") == "10"
    assert "now on record: “9”" in error_beside(again, "edit-egg_count")
    assert press(house, again)[0] == 303
    assert house.file().clutch.egg_count == 10


def test_a_mistake_in_an_older_page_does_not_bring_its_other_values_back_either(house: RegisterHouse) -> None:
    page = house.look(house.path("edit")).text
    house.desk.edit(house.clutch, {"egg_count": 9}, "ana", "")
    status, again = press(house, page, label="")
    assert status == 422
    assert press(house, again, label="Jo")[0] == 303
    assert (house.file().clutch.label, house.file().clutch.egg_count) == ("Jo", 9)
