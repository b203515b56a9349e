"""`clutchwarden heat` through the days on which the clocks change.

Europe/Madrid, by the directive 2000/84/EC: forward on 2026-03-29 from 02:00 to 03:00, back on 2026-10-25 from 03:00 to
02:00; both at 01:00 UTC.
"""

from pathlib import Path

import pytest

from tests.daemon.importing import NAMED, Site
from tests.daemon.test_heat import USUAL, answered, call, write

MADRID = (*USUAL, "--time-zone", "Europe/Madrid")
AT_28_5_K = 13.0
"""28.5 °C is 13 K above the zero of 15.5 °C."""


def autumn(folder: Path, *clock: str) -> Path:
    return write(folder, "T,C\n" + "".join(f"2026-10-25 {time},28.5\n" for time in clock))


def test_a_doubled_hour_whose_times_go_back_once_is_two_hours(tmp_path: Path) -> None:
    clock = ["01:30", "02:00", "02:30", "02:00", "02:30", "03:00"]
    found = answered(autumn(tmp_path, *clock), *MADRID)
    assert found["hours_covered"] == 2.5  # 23:30 to 02:00 UTC
    assert found["hours_missing"] == 0
    assert found["degree_hours_ch"] == pytest.approx(2.5 * AT_28_5_K)
    assert (found["first"], found["last"]) == ("2026-10-24T23:30:00+00:00", "2026-10-25T02:00:00+00:00")
    assert "at line 5, so the second hour begins there" in found["told"][0]
    assert "comes twice" in call(tmp_path / "record.csv", *MADRID).stdout


def test_a_record_of_one_reading_an_hour_says_the_hour_twice(tmp_path: Path) -> None:
    found = answered(autumn(tmp_path, "01:00", "02:00", "02:00", "03:00"), *MADRID, "--longest-gap-min", "60")
    assert found["hours_covered"] == 3


@pytest.mark.parametrize(
    "clock",
    [
        ["01:50", "02:00", "02:30", "03:00"],  # one of the two hours is not there; nobody knows which
        ["02:10", "02:20"],  # nothing else to go by
        ["02:00", "02:30", "02:10", "02:40", "02:05", "03:00"],  # back twice
        ["02:10", "02:20", "02:20", "02:30"],  # a row twice is no turn of the clock
    ],
)
def test_a_doubled_hour_that_the_order_does_not_tell_apart_is_refused_with_its_line(
    clock: list[str], tmp_path: Path
) -> None:
    found = call(autumn(tmp_path, *clock), *MADRID)
    assert found.exit_code == 2
    line = 2 + next(index for index, time in enumerate(clock) if time.startswith("02"))
    assert f"line {line}: 2026-10-25 " in found.stderr
    assert "comes twice in Europe/Madrid" in found.stderr
    assert "If the logger's clock is never changed: --time-zone Etc/GMT-1 (always UTC+1)." in found.stderr
    assert found.stdout == ""


def test_rows_said_twice_inside_a_doubled_hour_are_still_told_apart(tmp_path: Path) -> None:
    clock = ["02:00", "02:30", "02:30", "02:00", "02:30", "03:00"]
    found = answered(autumn(tmp_path, *clock), *MADRID)
    assert (found["hours_covered"], found["rows_repeated"]) == (2.0, 1)


def test_times_that_say_their_offset_need_no_order(tmp_path: Path) -> None:
    text = "T,C\n2026-10-25T02:30:00+02:00,28.5\n2026-10-25T02:30:00+01:00,28.5\n"
    found = answered(write(tmp_path, text), *MADRID, "--longest-gap-min", "60")
    assert found["hours_covered"] == 1
    assert found["read_as"]["time zone"] == "as each time says: UTC+01:00, UTC+02:00; --time-zone is not used"


def test_a_time_that_the_clocks_skipped_is_refused_with_its_line(tmp_path: Path) -> None:
    text = "T,C\n2026-03-29 01:50,28.5\n2026-03-29 02:10,28.5\n"
    found = call(write(tmp_path, text), *MADRID)
    assert found.exit_code == 2
    assert "line 3: 2026-03-29 02:10 does not exist in Europe/Madrid" in found.stderr
    assert "If the logger's clock is never changed: --time-zone Etc/GMT-1 (always UTC+1)." in found.stderr
    fixed = answered(tmp_path / "record.csv", *USUAL, "--time-zone", "Etc/GMT-1")
    assert fixed["first"] == "2026-03-29T00:50:00+00:00"


def test_the_skipped_hour_of_spring_is_no_gap(tmp_path: Path) -> None:
    text = "T,C\n2026-03-29 01:45,28.5\n2026-03-29 03:00,28.5\n"
    found = answered(write(tmp_path, text), *MADRID)
    assert (found["hours_covered"], found["hours_missing"]) == (0.25, 0)


def test_without_a_zone_the_clock_is_taken_as_never_changed_and_that_is_said(tmp_path: Path) -> None:
    went_back = call(autumn(tmp_path, "02:30", "02:00"), *USUAL)
    assert "give its --time-zone" in went_back.stderr
    found = answered(autumn(tmp_path, "01:50", "02:00", "02:30", "03:00"), *USUAL)
    assert "never changed" in found["read_as"]["time zone"]
    assert found["first"] == "2026-10-25T01:50:00+00:00"


def test_a_zone_that_changes_by_half_an_hour_is_told_apart_too(tmp_path: Path) -> None:
    # Lord Howe Island: back by half an hour, from 02:00 to 01:30, on 2026-04-05.
    text = "T,C\n" + "".join(
        f"2026-04-05 {time},28.5\n" for time in ("01:15", "01:30", "01:45", "01:30", "01:45", "02:00")
    )
    found = answered(write(tmp_path, text), *USUAL, "--time-zone", "Australia/Lord_Howe")
    assert (found["hours_covered"], found["hours_missing"]) == (1.25, 0)


@pytest.mark.parametrize(
    ("zone", "skipped", "fixed"),
    [
        ("Europe/London", "2026-03-29 01:30", "Etc/GMT (always UTC)"),  # on 29 March from 01:00 to 02:00
        ("America/New_York", "2026-03-08 02:30", "Etc/GMT+5 (always UTC-5)"),  # on 8 March from 02:00 to 03:00
        ("Australia/Sydney", "2026-10-04 02:30", "Etc/GMT-10 (always UTC+10)"),  # winter in the middle of the year
    ],
)
def test_the_fixed_zone_that_is_advised_is_that_of_the_winter_there(
    zone: str, skipped: str, fixed: str, tmp_path: Path
) -> None:
    file = write(tmp_path, f"T,C\n{skipped},28.5\n{skipped[:-2]}40,28.5\n")
    refused = call(file, *USUAL, "--time-zone", zone)
    assert refused.exit_code == 2
    assert f"--time-zone {fixed}" in refused.stderr
    assert call(file, *USUAL, "--time-zone", fixed.partition(" ")[0]).exit_code == 0


def test_no_fixed_zone_is_advised_where_there_is_none(tmp_path: Path) -> None:
    """Adelaide is 9.5 h ahead of UTC in winter, and goes forward on 2026-10-04 from 02:00 to 03:00."""
    file = write(tmp_path, "T,C\n2026-10-04 02:30,28.5\n2026-10-04 02:40,28.5\n")
    assert "Etc/GMT" not in call(file, *USUAL, "--time-zone", "Australia/Adelaide").stderr


def test_import_and_heat_refuse_the_same_file_with_the_same_advice(tmp_path: Path) -> None:
    """The site is in Madrid; `heat` knows no site, and is told the zone."""
    site = Site(tmp_path)
    site.write("T,C\n2026-03-29 01:50,28.5\n2026-03-29 02:10,28.5\n")
    by_heat, by_import = call(site.file, *USUAL, "--time-zone", "Europe/Madrid").stderr, site.refused(*NAMED)
    assert by_heat.splitlines()[:-1] == by_import.splitlines()[:-1]
