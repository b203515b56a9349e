"""`clutchwarden heat` on tables that cannot be read without guessing: a sentence with the line, and no sum."""

from pathlib import Path

import pytest

from tests.daemon.test_heat import NAMED, USUAL, call, write

GOOD = "2026-05-03 10:00,28.5\n2026-05-03 10:10,28.5\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty"),
        ("\n\n", "the file is empty"),
        ("T,C\n", "no row with a time and a temperature"),
        ("T,C\n2026-05-03 10:00,28.5\n", "a single reading"),
        ("T,C\n2026-05-03 10:00,\n2026-05-03 10:10,\n", "no reading"),
        ("Time,C\n" + GOOD, 'no column is headed "T"'),
        ("T,C,C\n2026-05-03 10:00,28.5,1\n", 'line 1: two columns are headed "C"'),
        ("T,C\n" + GOOD + "2026-05-03 10:20,82.4\n", "line 4: 82.4 °C looks like °F"),
        ("T,C\n" + GOOD + "2026-05-03 10:20,85\n", 'line 4: "85": 85 °C is what a 1-wire thermometer says'),
        ("T,C\n" + GOOD + "2026-05-03 10:20,-127.0\n", "the thermometer is missing"),
        ("T,C\n" + GOOD + "2026-05-03 10:20,83 °F\n", "Give --unit F"),
        ("T,C\n" + GOOD + "2026-05-03 10:20,error 4\n", 'line 4: "error 4" is not a number'),
        ("T,C\n" + GOOD + "2026-05-03 10:20,inf\n", 'line 4: "inf" is not a number'),
        ("T,C\n" + GOOD + '2026-05-03 10:20,"28,5"\n', "points and decimal commas in one column"),
        ("T,C\n" + GOOD + "2026-05-03 10:20,28,5\n", "line 4: the row has 3 cells, the table 2"),
        ("T,C\n2026-05-03 10:00,28,5\n", "decimal commas?"),
        ("C,T\n28.5,2026-05-03 10:00\n28.5\n", "line 3: the row ends after 1 of 2 cells"),
        ("T,C\n" + GOOD + '2026-05-03 10:20,"28.5\n', "line 4: a double quote is out of place"),
        ("T,C\n" + GOOD + "2026-05-03 09:50,28.5\n", "line 4: the time is 20 min before that of line 3"),
        ("T,C\n" + GOOD + "2026-05-03 10:10,28.6\n", "line 4: the same time as the reading before, but 28.6"),
        ("T,C\n" + GOOD + "2026-05-03 25:10,28.6\n", 'line 4: "2026-05-03 25:10" is not a time as the rest'),
        ("T,C\n" + GOOD + ",28.6\n", "line 4: there is no time in this row"),
        ("T,C\n" + GOOD + "2026-05-03 10:20Z,28.6\n", "line 4: 2026-05-03 10:20 has an offset from UTC"),
        ("T,C\n2026-05-03 10:20+02:00,28.6\n" + GOOD, "line 3: 2026-05-03 10:00 has no offset from UTC"),
        ("T,C\n2026-05-03 10:00 CEST,28.5\n", "is not a time in any way known here"),
        ("T,C\n03/04/2026 10:00,28.5\n03/04/2026 10:10,28.5\n", "2026-04-03 (day-first) or 2026-03-04 (month-first)"),
        ("T,C\n" + GOOD + "\0\0\0\0", "not text"),
        ("PK\x03\x04T,C\n" + GOOD, "not text"),
        ("x" * 70_000, "line 1: the line is longer"),
    ],
)
def test_a_table_that_needs_a_guess_is_refused_whole(text: str, said: str, tmp_path: Path) -> None:
    found = call(write(tmp_path, text), *USUAL)
    assert found.exit_code == 2, found.stdout
    assert said in found.stderr
    assert found.stderr.startswith(str(tmp_path))
    assert "Nothing was added up" in found.stderr
    assert found.stdout == ""


def test_a_heading_in_fahrenheit_is_believed_against_the_option(tmp_path: Path) -> None:
    file = write(tmp_path, "T,Temp (°F)\n2026-05-03 10:00,40.1\n2026-05-03 10:10,40.1\n")
    columns = ("--time-column", "T", "--temperature-column", "Temp (°F)", "--zero", "1")
    refused = call(file, *columns)
    assert refused.exit_code == 2
    assert "headed °F" in refused.stderr
    assert "--unit F" in refused.stderr
    assert call(file, *columns, "--unit", "F").exit_code == 0
    file.write_text(file.read_text(encoding="utf-8").replace("°F", "°C"), encoding="utf-8")
    columns = ("--time-column", "T", "--temperature-column", "Temp (°C)", "--zero", "1")
    assert call(file, *columns).exit_code == 0
    assert "--unit C" in call(file, *columns, "--unit", "F").stderr


def test_without_a_heading_a_comma_may_be_a_decimal_sign_and_is_asked_about(tmp_path: Path) -> None:
    file = write(tmp_path, "2026-05-03 10:00,28,4\n2026-05-03 10:30,28,4\n")
    columns = ("--time-column", "1", "--temperature-column", "2", "--zero", "15")
    refused = call(file, *columns)
    assert refused.exit_code == 2
    assert "28,4 may be one number with a decimal comma, or two" in refused.stderr
    assert "6.50 °C·h" in call(file, *columns, "--decimal", ".").stdout  # by hand: 13 K for half an hour


def test_a_folder_or_nothing_instead_of_a_file_is_said(tmp_path: Path) -> None:
    assert "this is a folder" in call(tmp_path, *USUAL).stderr
    nowhere = call(tmp_path / "nowhere.csv", *USUAL)
    assert "there is no such file" in nowhere.stderr
    assert nowhere.exit_code == 2


def test_text_that_stops_being_text_late_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "record.csv"
    file.write_bytes(b"T,C\n" + b"".join(b"%d,28.5\n" % (1_780_000_000 + at) for at in range(9000)) + b"\xff\xfe\n")
    found = call(file, *USUAL)
    assert found.exit_code == 2
    assert "not in the encoding that it began with" in found.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((*NAMED, "--zero", "60"), "--zero: 60 °C looks like °F: 60 °F is 15.6 °C"),
        ((*NAMED, "--zero", "nan"), "not a temperature"),
        ((*NAMED, "--zero", "20", "--cap", "20"), "--cap 20 is not above --zero 20"),
        ((*USUAL, "--longest-gap-min", "0"), "give minutes above 0"),
        ((*USUAL, "--time-zone", "Europe/Madird"), 'no zone "Europe/Madird"'),
        ((*USUAL, "--time-format", "mdy"), "there is no time format"),
        ((*USUAL, "--time-format", "%d.%m. %H:%M"), "has no year"),
        ((*USUAL, "--time-format", "%Y-%m-%d %Z"), "--time-zone"),
        ((*USUAL, "--delimiter", "ab"), "give one sign"),
        ((*USUAL, "--decimal", "x"), "give . or ,"),
    ],
)
def test_an_option_that_cannot_be_is_a_sentence_and_exit_2(
    arguments: tuple[str, ...], said: str, tmp_path: Path
) -> None:
    found = call(write(tmp_path, "T,C\n" + GOOD), *arguments)
    assert found.exit_code == 2
    assert said in found.stderr


def test_a_time_far_down_the_table_is_held_to_the_form_found_at_its_head(tmp_path: Path) -> None:
    # Beyond the lines that are looked at first, a time must still be of the form found there.
    rows = "".join(f"03/05/2026 {s // 3600:02}:{s // 60 % 60:02}:{s % 60:02},28.5\n" for s in range(21_000))
    file = write(tmp_path, f"T,C\n{rows}13/31/2026 10:00,28.5\n")
    assert "day-first" in call(file, *USUAL).stderr  # one day alone does not tell day from month
    found = call(file, *USUAL, "--time-format", "day-first")
    assert "line 21002" in found.stderr
    assert "day before month" in found.stderr
