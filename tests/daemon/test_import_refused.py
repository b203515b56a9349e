"""`clutchwarden import` of what cannot be understood without guessing: a sentence with the line, and nothing stored.

All files here are invented.
"""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from daemon.commands import import_reading
from daemon.tabular.layout import Wanted
from daemon.tabular.record import Manner, found_manner
from tests.daemon.importing import AIR, HUMID, NAMED, RH, Site
from tests.daemon.importing import UTC as IN_UTC

GOOD = "2026-05-03 10:00,28.5\n2026-05-03 10:10,28.5\n2026-05-03 10:20,28.6\n"


@pytest.fixture
def site(tmp_path: Path) -> Site:
    return Site(tmp_path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty"),
        ("T,C\n", "no row with a time and a temperature"),
        ("T,C\n2026-05-03 10:00,\n2026-05-03 10:10,n/a\n", 'column "C" holds no reading'),
        ("Time,C\n" + GOOD, 'no column is headed "T"'),
        ("T,C\n" + GOOD + "2026-05-03 10:15,28.5\n", "line 5: the time is 5 min before that of line 4"),
        ("T,C\n" + GOOD + "2026-05-03 10:20,28.7\n", "line 5: the same time as the reading before, but 28.7"),
        ("T,C\n" + GOOD + "2026-05-03T10:30Z,28.5\n", "the table mixes time zones"),
        ("T,C\n" + GOOD + "2026-05-03 10:30 CEST,28.5\n", 'line 5: "2026-05-03 10:30 CEST" is not a time'),
        ("T,C\n" + GOOD + '2026-05-03 10:30,"1,028.5"\n', 'line 5: "1,028.5" is not a number'),
        ("T,C\n" + GOOD + "2026-05-03 10:30,28,5\n", "line 5: the row has 3 cells, the table 2"),
        ("T;C\n2026-05-03 10:00;28,5\n2026-05-03 10:10;28.5\n", "points and decimal commas in one column"),
        ("T,C\n" + GOOD + "2026-05-03 10:30,83 °F\n", "Give --unit F"),
        ("T,C\n" + GOOD + "2026-05-03 10:30,83 %\n", "Is this the right column?"),
        ("T,C\n" + GOOD + "2026-05-03 10:30,#VALUE!\n", 'line 5: "#VALUE!" is not a number'),
        ("T,C\n" + GOOD + "2026-05-03 10:30,nan or so\n", "is not a number"),
        ("T,C\n" + GOOD + "2026-05-03 10:30,1e999\n", 'line 5: "1e999" is larger than any probe can say'),
        ("T,C\n" + GOOD + f"2026-05-03 10:30,{'9' * 70_000}\n", "line 5: the line is longer"),
        ("T,C\n" + GOOD + f"2026-05-03 10:30,{'9' * 5_000}\n", "larger than any probe can say"),
        ("T,C\n" + GOOD + "\0\0\0", "not text"),
        ("T,C\n" + "".join(f"{1_770_000_000 + at},28.5\n" for at in range(9000)) + "\0\n", "zero byte"),
        ("\x7fELF\0\0", "not text"),
        ("T,C\n1999-05-03 10:00,28.5\n1999-05-03 10:10,28.5\n", "line 2: the time is before the year 2000"),
        ("T,C\n" + GOOD.replace("28.", "83."), "Give --unit F"),
        ("T,C\n" + GOOD.replace("28.", "301."), "looks like kelvin"),
        ("T,C %\n" + GOOD, 'no column is headed "C"'),
    ],
)
def test_a_file_that_needs_a_guess_is_refused_whole(text: str, said: str, site: Site) -> None:
    site.write(text)
    answer = site.refused(*NAMED, *IN_UTC)
    assert said in answer
    assert answer.startswith(str(site.file))
    assert "Nothing was stored." in answer


def test_a_file_refused_at_its_last_line_leaves_nothing_of_the_lines_before(site: Site) -> None:
    rows = "".join(f"{1_770_000_000 + 30 * at},28.5\n" for at in range(30_000))
    site.write(f"T,C\n{rows}nonsense,28.5\n")
    assert "line 30002" in site.refused(*NAMED)
    assert not site.journal_path.exists()


def test_utf_16_without_its_mark_is_not_taken_for_text(site: Site) -> None:
    site.write("T,C\n" + GOOD, "utf-16-le")
    assert "not text" in site.refused(*NAMED)


def test_a_time_in_the_future_is_refused_with_its_line(site: Site) -> None:
    ahead = datetime.now(UTC) + timedelta(hours=3)
    site.write(f"T,C\n2026-05-03 10:00,28.5\n{ahead:%Y-%m-%d %H:%M:%S},28.5\n")
    answer = site.refused(*NAMED, *IN_UTC)
    assert "line 3: the time is 3.0 h in the future" in answer or "line 3: the time is 2.9 h in the future" in answer


def test_an_hour_that_comes_twice_is_told_apart_by_the_order_and_said(site: Site) -> None:
    # Europe/Madrid by the directive 2000/84/EC: back on 2025-10-26 from 03:00 to 02:00, at 01:00 UTC.
    clock = ["01:30", "02:00", "02:30", "02:00", "02:30", "03:00"]
    site.write("T,C\n" + "".join(f"2025-10-26 {time},28.{at}\n" for at, time in enumerate(clock)))
    said = site.store(*NAMED)
    begin_ms = round(datetime(2025, 10, 25, 23, 30, tzinfo=UTC).timestamp() * 1000)
    assert [at_ms for at_ms, _ in site.series()] == [begin_ms + 1_800_000 * at for at in range(6)]
    assert "comes twice" in said["told"][0]


def test_an_hour_that_comes_twice_and_is_not_told_apart_is_refused(site: Site) -> None:
    site.write("T,C\n" + "".join(f"2025-10-26 {time},28.5\n" for time in ("01:50", "02:00", "02:30", "03:00")))
    assert "comes twice in Europe/Madrid" in site.refused(*NAMED)
    assert site.store(*NAMED, "--time-zone", "Etc/GMT-1")["first"] == "2025-10-26T00:50:00+00:00"


def test_a_time_that_the_clocks_skipped_is_refused(site: Site) -> None:
    site.write("T,C\n2026-03-29 01:50,28.5\n2026-03-29 02:10,28.5\n")
    assert "2026-03-29 02:10 does not exist in Europe/Madrid" in site.refused(*NAMED)


def test_celsius_taken_for_fahrenheit_is_refused(site: Site) -> None:
    site.write("T,C\n" + GOOD)
    answer = site.refused(*NAMED, "--unit", "F")
    assert "below freezing: 28.5 °F is -1.9 °C" in answer
    assert "--unit C" in answer


def test_a_file_that_changes_while_it_is_read_is_refused(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    # Longer than what is looked at first, so that there is a moment in the middle of the reading.
    site.write("T,C\n" + "".join(f"{1_770_000_000 + 30 * at},28.5\n" for at in range(25_000)))

    def while_read(head: Sequence[str], wanted: Wanted, zone: ZoneInfo | None) -> Manner:
        with site.file.open("a") as file:
            file.write("1779000000,28.5\n")
        return found_manner(head, wanted, zone)

    monkeypatch.setattr(import_reading, "found_manner", while_read)
    assert "the file changed while it was being read" in site.refused(*NAMED)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--to", "north-air/temp"), 'no channel "north-air/temp" in site.toml.'),
        (("--to", "north-air/aur"), 'Did you mean "north-air/air"?'),
        (("--to", "nowhere"), "Known here: north-air/air."),
        (("--to", RH), "north-air/rh is the relative humidity of its probe"),
        (("--to", AIR, "--humidity-column", "H"), "--humidity-column and --humidity-to belong together"),
        (("--to", AIR, "--humidity-column", "H", "--humidity-to", AIR), "is the air temperature of its probe"),
        (("--to", AIR, "--humidity-column", "C", "--humidity-to", RH), 'the column "C" is asked for twice'),
        (("--to", AIR, "--time-zone", "Europe/Madird"), 'no zone "Europe/Madird"'),
        (("--to", AIR, "--time-format", "mdy"), "there is no time format"),
        (("--to", AIR, "--delimiter", "ab"), "give one sign"),
    ],
)
def test_an_option_that_cannot_be_is_a_sentence_and_nothing_is_stored(
    arguments: tuple[str, ...], said: str, site: Site
) -> None:
    site.write("T,C,H\n2026-05-03 10:00,28.5,80\n")
    assert said in site.refused("--time-column", "T", "--temperature-column", "C", *arguments)


def test_no_column_at_all_is_said(site: Site) -> None:
    site.write("T,C\n" + GOOD)
    assert "Give --temperature-column with --to" in site.refused("--time-column", "T")


def test_a_folder_or_nothing_instead_of_a_file_is_said(site: Site) -> None:
    assert "there is no such file" in site.refused(*NAMED)
    site.file.mkdir()
    assert "this is a folder" in site.refused(*NAMED)


HUMIDITY = "T,C,H\n2026-05-03 10:00,28.5,{}\n2026-05-03 10:10,28.5,{}\n2026-05-03 10:20,28.6,{}\n"


@pytest.mark.parametrize(
    ("cells", "options", "said"),
    [
        (("0.81", "0.80", "0.82"), (), "Where it is a fraction of 1, give --humidity-unit fraction"),
        (("0", "0", "0"), (), "where it is 0, the probe was broken"),
        (("81", "80", "82"), ("--humidity-unit", "fraction"), "Give --humidity-unit percent"),
        (("0.81", "81 %", "0.82"), ("--humidity-unit", "fraction"), "Give --humidity-unit percent"),
        (("81 °C", "80", "82"), (), "Is this the right column?"),
        (("810", "800", "820"), (), "half of its readings are like this: 810 % RH is outside"),
        (('"81,5"', "80", "82"), (), "decimal points and decimal commas in two columns"),
    ],
)
def test_a_humidity_that_cannot_be_meant_so_is_refused(
    cells: tuple[str, ...], options: tuple[str, ...], said: str, site: Site
) -> None:
    site.write(HUMIDITY.format(*cells))
    assert said in site.refused(*NAMED, *HUMID, *options)


def test_humidity_of_zero_or_a_little_above_100_is_kept_as_said_and_far_above_is_suspect(site: Site) -> None:
    rows = ["81", "0", "100", "101.5", "103", "100 %RH", "99%"]
    text = "".join(f"2026-05-03 10:{at}0,28.5,{cell}\n" for at, cell in enumerate(rows[:6]))
    site.write(f"T,C,H\n{text}2026-05-03 11:00,28.5,{rows[6]}\n")
    site.store(*NAMED, *HUMID)
    kept = [(row.value, row.quality != 0) for row in site.rows() if row.channel == RH]
    expected = [(81, False), (0, True), (100, False), (101.5, False), (103, True), (100, False), (99, False)]
    assert kept == expected


def test_a_fraction_is_percent_in_the_journal_when_it_is_said(site: Site) -> None:
    site.write(HUMIDITY.format("0.81", "0.805", "1.0"))
    site.store(*NAMED, *HUMID, "--humidity-unit", "fraction")
    assert [value for _, value in site.series(RH)] == [81.0, 80.5, 100.0]


def test_a_heading_of_the_wrong_kind_is_seen(site: Site) -> None:
    site.write("T,RH %,Temp °C\n2026-05-03 10:00,80,28.5\n")
    swapped = ("--time-column", "T", "--temperature-column", "RH %", "--to", AIR)
    assert 'the column "RH %" is headed %' in site.refused(*swapped)
    humid = ("--time-column", "T", "--humidity-column", "Temp °C", "--humidity-to", RH)
    assert 'the column "Temp °C" is headed °C' in site.refused(*humid)
