"""The register as a table at its page: what a file would do is shown first, and kept as shown or not at all."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboards.register_table_routes import LARGEST_BYTES
from tests.support.registered import FREE_BOX, RESPONDER, VIEWER, RegisterHouse, register_house
from tests.support.upkept import words

TABLE, TAKE_IN = "/clutches/table", "/clutches/table/take-in"
HEADER = "label,species,laid_from,set_up,egg_count,place,note\r\n"
NEW = f"Ada,elaphe-taeniura,2026-06-20,2026-06-22 09:30,9,{FREE_BOX},<i>pale</i>\r\n"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[RegisterHouse]:
    with register_house(tmp_path) as made:
        yield made


def held(html: str) -> str:
    """The word by which a tried table is asked for; empty where there is none."""
    found = re.search(r'name="held" value="([^"]+)"', html)
    return found[1] if found else ""


def labels(house: RegisterHouse) -> list[str]:
    return [clutch.label for clutch, _ in house.desk.all(include_closed=True)]


def test_a_table_is_shown_before_it_is_kept(house: RegisterHouse) -> None:
    tried = house.upload(TABLE, (HEADER + NEW).encode())
    assert tried.status_code == 200
    told = words(tried.text)
    assert "What it would do Rows: 1 added. Nothing is kept yet." in told
    assert "2 clutch Ada added : 9 eggs of elaphe-taeniura" in told
    assert labels(house) == ["Juniper"]
    kept = house.send(TAKE_IN, held=held(tried.text))
    assert "All of it is kept" in words(kept.text)
    assert labels(house) == ["Juniper", "Ada"]
    assert house.file(2).changes[0].who == "mara"
    # Sent a second time it is not taken in a second time.
    again = house.send(TAKE_IN, held=held(tried.text))
    assert again.status_code == 409
    assert "was taken in already" in words(again.text)
    assert labels(house) == ["Juniper", "Ada"]


def test_a_refused_row_keeps_the_whole_table_out(house: RegisterHouse) -> None:
    bad = NEW.replace("Ada", "Bea").replace(FREE_BOX, "north/upper/N9")
    tried = house.upload(TABLE, (HEADER + NEW + bad).encode())
    assert tried.status_code == 422
    told = words(tried.text)
    assert "Nothing is kept Rows: 1 added, 1 refused." in told
    assert "3 clutch Bea refused : there is no place 'north/upper/N9'" in told
    assert held(tried.text) == ""
    assert labels(house) == ["Juniper"]


def test_where_the_register_changed_meanwhile_it_is_shown_anew(house: RegisterHouse) -> None:
    tried = house.upload(TABLE, (HEADER + NEW).encode())
    house.another("Bea", FREE_BOX)
    later = house.send(TAKE_IN, held=held(tried.text))
    assert later.status_code == 409
    assert "the register was changed meanwhile" in words(later.text)
    assert "holds Bea since" in words(later.text)
    assert labels(house) == ["Juniper", "Bea"]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "No file was chosen, or it is empty"),
        (b"\xff\xfe\x00", "not UTF-8 text (byte 1)"),
        (b"a,b\r\n1,2\r\n", "no column named label"),
        (b'label\r\n"open', "cannot be read as CSV"),
        (b"label\r\n" + b"x" * LARGEST_BYTES, "larger than 2 MB"),
        (b"\x89PNG\r\n\x1a\n" + b"\x00" * 50, "This is no CSV table"),
    ],
)
def test_a_file_that_is_no_table_is_refused_in_words(house: RegisterHouse, data: bytes, told: str) -> None:
    answer = house.upload(TABLE, data)
    assert answer.status_code == 422
    assert told in words(answer.text)
    assert labels(house) == ["Juniper"]


def test_an_empty_table_is_there_to_fill_in(house: RegisterHouse) -> None:
    assert 'href="/clutches/table/empty.csv"' in house.look(TABLE).text
    empty = house.look("/clutches/table/empty.csv").content
    row = {"label": "Ada", "place": FREE_BOX}
    names = empty.decode().strip().split(",")
    assert {"row", "label", "species", "eggs", "laid_from", "set_up"} & set(names) >= {"row", "label", "set_up"}
    assert house.upload(TABLE, empty).status_code == 200
    assert set(row) <= set(names)


def test_what_goes_out_comes_in_as_what_is_on_record(house: RegisterHouse) -> None:
    house.desk.say_of_eggs(house.clutch, "removed:mould", ["3"], "kim")
    house.desk.note(house.clutch, "=1+1", "kim")
    out = house.look("/clutches/table/clutches-with-eggs.csv")
    assert out.headers["content-type"].startswith("text/csv; charset=utf-8")
    assert "clutches-with-eggs.csv" in out.headers["content-disposition"]
    tried = house.upload(TABLE, out.content)
    assert "All of it is on record already." in words(tried.text)
    assert "Take it in" not in tried.text
    # With a mark of its encoding, as spreadsheets write it.
    plain = house.look("/clutches/table/clutches.csv")
    assert house.upload(TABLE, b"\xef\xbb\xbf" + plain.content).status_code == 200


def test_a_table_is_taken_in_by_whoever_tried_it(house: RegisterHouse) -> None:
    tried = house.upload(TABLE, (HEADER + NEW).encode())
    ben = house.pages(RESPONDER)
    assert house.send(TAKE_IN, ben, held=held(tried.text)).status_code == 409
    assert house.upload(TABLE, (HEADER + NEW).encode(), house.pages(VIEWER)).status_code == 403
    assert labels(house) == ["Juniper"]


def test_text_with_markup_in_a_table_is_text(house: RegisterHouse) -> None:
    tried = house.upload(TABLE, (HEADER + NEW.replace("Ada", "<script>x</script>")).encode())
    assert "&lt;script&gt;x" in tried.text
    assert "<script>x" not in tried.text
