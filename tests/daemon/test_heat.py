"""`clutchwarden heat`: sums against closed forms, and every way a logger may write its table."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import typer
from typer.testing import CliRunner, Result

from daemon.commands import heat
from daemon.development.degree_hours import season_degree_hours
from tests.support.tables import read_table

APP = typer.Typer()
APP.command()(heat.heat)
NAMED = ("--time-column", "T", "--temperature-column", "C")
USUAL = (*NAMED, "--zero", "15.5", "--cap", "31")
START = datetime(2026, 5, 3, tzinfo=UTC)
STRAIGHT = [row for row in read_table("degree-hours-check.csv") if row["profile"] in {"constant", "piecewise_linear"}]


def call(file: Path, *arguments: str) -> Result:
    return CliRunner().invoke(APP, [str(file), *arguments])


def answered(file: Path, *arguments: str) -> dict[str, Any]:
    found = call(file, *arguments, "--json")
    assert found.exit_code == 0, found.stderr
    parsed: dict[str, Any] = json.loads(found.stdout)
    return parsed


def write(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    file = folder / "record.csv"
    file.write_bytes(text.encode(encoding))
    return file


def times(hours: float = 1.0, step_min: int = 10, pattern: str = "%Y-%m-%d %H:%M") -> list[str]:
    return [(START + timedelta(minutes=at)).strftime(pattern) for at in range(0, round(hours * 60) + 1, step_min)]


@pytest.mark.parametrize("row", STRAIGHT, ids=lambda row: row["case_id"])
def test_a_record_of_straight_lines_gives_the_closed_form(row: dict[str, str], tmp_path: Path) -> None:
    params = json.loads(row["params"])
    lines = ["T,C"]
    for t_h, celsius in zip(params["t_h"], params["temp"], strict=True):
        lines.append(f"{(START + timedelta(hours=t_h)).isoformat(timespec='milliseconds')},{celsius!r}")
    cap = ("--cap", row["cap"]) if row["cap"] else ()
    options = (*NAMED, "--zero", row["zero"], *cap, "--longest-gap-min", "100000")
    found = answered(write(tmp_path, "\n".join(lines)), *options)
    # Times are written to the millisecond, so a third of an hour is off by up to 0.5 ms: 2e-7 h times some tens of K.
    assert found["degree_hours_ch"] == pytest.approx(float(row["degree_hours"]), abs=1e-5), row["source"]
    assert found["hours_missing"] == 0


def test_a_long_record_in_blocks_gives_what_the_whole_gives(tmp_path: Path) -> None:
    # 30,000 rows are four blocks, and more than the lines looked at first; the whole at once is another coding.
    count = 30_000
    celsius = np.round(23 + 10 * np.sin(np.arange(count) / 700), 3)
    begin = int(START.timestamp())
    text = "T,C\n" + "".join(f"{begin + 60 * at},{value}\n" for at, value in enumerate(celsius.tolist()))
    found = answered(write(tmp_path, text), *USUAL)
    whole = season_degree_hours(np.arange(count) / 60, celsius, 15.5, 31.0)
    assert found["degree_hours_ch"] == pytest.approx(whole, abs=1e-6)
    assert found["hours_covered"] == pytest.approx((count - 1) / 60)


def test_a_gap_is_missing_and_not_heat(tmp_path: Path) -> None:
    # By hand: 28.5 °C is 13 K above the zero; two half hours at ten minutes, and an hour and a half between them.
    rows = [time for time in times(2.5) if not "00:30" < time[11:] < "02:00"]
    found = answered(write(tmp_path, "T,C\n" + "".join(f"{time},28.5\n" for time in rows)), *USUAL)
    assert found["degree_hours_ch"] == pytest.approx(13.0)
    assert (found["hours_covered"], found["hours_missing"]) == (1.0, 1.5)
    bridged = answered(tmp_path / "record.csv", *USUAL, "--longest-gap-min", "90")
    assert bridged["degree_hours_ch"] == pytest.approx(13 * 2.5)
    assert "anything from nothing to 23.25" in call(tmp_path / "record.csv", *USUAL).stdout  # 1.5 h times 15.5 K


def test_empty_cells_are_counted_and_at_the_ends_they_are_missing_time(tmp_path: Path) -> None:
    cells = ["", "28.5", "n/a", "28.5", "28.5", "28.5", "--"]
    text = "T,C\n" + "".join(f"{time},{cell}\n" for time, cell in zip(times(1), cells, strict=True))
    found = answered(write(tmp_path, text), *USUAL)
    assert (found["readings"], found["rows_without_reading"]) == (4, 3)
    assert found["hours_covered"] == pytest.approx(40 / 60)
    assert found["hours_missing"] == pytest.approx(20 / 60)
    assert "3 rows without a reading" in found["read_as"]["left out"]


TWO_HOURS = [("28.0", "80"), ("29.0", "81"), ("28.0", "79")]
"""Hourly readings, above the zero: by hand (13 + 13) degree-hours of 15.5 °C."""


@pytest.mark.parametrize(
    ("pattern", "delimiter", "decimal", "told"),
    [
        ("%Y-%m-%d %H:%M", ",", ".", ("comma (found)", "point (found)", "year, month, day")),
        ("%Y-%m-%dT%H:%M:%SZ", ";", ",", ("semicolon (found)", "comma (found)", "year, month, day")),
        ("%d.%m.%Y %H:%M:%S", "\t", ",", ("tab (found)", "comma (found)", "day before month")),
        ("%d/%m/%y %I:%M:%S %p", ",", ".", ("comma (found)", "point (found)", "day before month")),
        ("%m/%d/%Y %H:%M", "|", ".", ("vertical bar (found)", "point (found)", "month before day")),
        ("%Y/%m/%d %H:%M:%S.250", ",", ".", ("comma (found)", "point (found)", "year, month, day")),
        ("%s", ";", ",", ("semicolon (found)", "comma (found)", "seconds since 1970")),
        ("%s000", ",", ".", ("comma (found)", "point (found)", "milliseconds since 1970")),
    ],
)
def test_delimiter_decimal_sign_and_time_are_found_and_told(
    pattern: str, delimiter: str, decimal: str, told: tuple[str, ...], tmp_path: Path
) -> None:
    begin = datetime(2026, 5, 30, 23, tzinfo=UTC)
    lines = [delimiter.join(("No", "T", "C", "RH"))]
    for hour, (celsius, humidity) in enumerate(TWO_HOURS):
        moment = begin + timedelta(hours=hour)
        time = moment.strftime(pattern.replace("%s", str(int(moment.timestamp()))))
        lines.append(delimiter.join((str(hour), time, celsius.replace(".", decimal), humidity)))
    found = answered(write(tmp_path, "\r\n".join(lines)), *USUAL, "--longest-gap-min", "60")
    assert found["degree_hours_ch"] == pytest.approx(26)
    assert found["first"].startswith("2026-05-30T23:00:00")
    said = call(tmp_path / "record.csv", *USUAL, "--longest-gap-min", "60").stdout
    for words in told:
        assert words in said


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_text_of_any_usual_encoding_is_read_and_told(encoding: str, tmp_path: Path) -> None:
    text = "T;Wärme °C\n2026-05-03 10:00;28,5\n2026-05-03 10:30;28,5\n"
    found = answered(
        write(tmp_path, text, encoding), "--time-column", "t", "--temperature-column", "wärme °c", "--zero", "15.5"
    )
    assert found["degree_hours_ch"] == pytest.approx(6.5)
    told = {"utf-8": "UTF-8", "utf-8-sig": "byte order mark", "utf-16": "UTF-16", "cp1252": "Windows-1252"}
    assert told[encoding] in found["read_as"]["text"]


def test_comments_units_quotes_and_two_columns_of_time_are_understood(tmp_path: Path) -> None:
    text = (
        '# logger 12\nplace;north, upper\n\nDatum;Uhrzeit;"T; innen"\n;;°C\n'
        '14.05.26;10:00;"28,5"\n# battery changed\n14.05.26;10:30;28,5 °C\n14.05.26;10:30;28,5\n'
    )
    columns = ("--time-column", "Datum", "--time-column", "Uhrzeit", "--temperature-column", "t; innen")
    found = answered(write(tmp_path, text), *columns, "--zero", "15.5")
    assert found["degree_hours_ch"] == pytest.approx(6.5)
    assert found["rows_repeated"] == 1
    assert found["read_as"]["header"] == "line 4 (3 before it passed over); data from line 6 (1 between passed over)"
    assert "1 row said twice, 1 comment or blank line" in found["read_as"]["left out"]
    by_number = ("--time-column", "1", "--time-column", "2", "--temperature-column", "3")
    assert answered(tmp_path / "record.csv", *by_number, "--zero", "15.5")["degree_hours_ch"] == pytest.approx(6.5)


def test_what_is_given_is_used_and_told_as_given(tmp_path: Path) -> None:
    file = write(tmp_path, "03 May 2026 10h00~83,3\n03 May 2026 10h30~83,3\n")
    found = answered(
        file, "--time-column", "1", "--temperature-column", "2", "--zero", "15.5", "--delimiter", "~",
        "--decimal", ",", "--time-format", "%d %b %Y %Hh%M", "--unit", "F", "--time-zone", "Europe/Madrid",
    )  # fmt: skip
    assert found["degree_hours_ch"] == pytest.approx(6.5)  # by hand: 83.3 °F is 28.5 °C
    assert found["first"] == "2026-05-03T08:00:00+00:00"
    assert found["read_as"]["delimiter"] == "~ (given)"
    assert found["read_as"]["time zone"] == "Europe/Madrid (given)"
    assert "°F" in found["read_as"]["temperature"]


def test_day_and_month_are_told_apart_by_the_leap_the_wrong_reading_makes(tmp_path: Path) -> None:
    rows = "".join(f"0{day}/05/2026 {hour:02}:00,28.5\n" for day in (3, 4) for hour in range(24))
    found = answered(write(tmp_path, f"T,C\n{rows}"), *USUAL, "--longest-gap-min", "60")
    assert found["first"] == "2026-05-03T00:00:00+00:00"
    assert "would leap by 30 days" in found["read_as"]["time"]
    assert found["hours_covered"] == 47


def test_the_bar_appears_after_two_seconds_on_standard_error_and_not_before(tmp_path: Path) -> None:
    from io import StringIO

    from rich.console import Console

    from daemon.commands.progress import lines_with_progress
    from daemon.tabular.file import open_table

    file = write(tmp_path, "28.5\n" * 12_000)
    for seconds_a_look, expected in ((0.5, False), (1.5, True)):
        shown, ticks = StringIO(), iter(range(1000))
        console = Console(file=shown, force_terminal=True, width=80)
        clock = lambda ticks=ticks, each=seconds_a_look: next(ticks) * each  # noqa: E731
        with open_table(file) as table, lines_with_progress(table, clock, console) as lines:
            assert sum(1 for _ in lines) == 12_000
        assert ("Reading" in shown.getvalue()) == expected
