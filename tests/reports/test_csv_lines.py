"""Readings as lines of CSV: read back by the library's own reader, with times by zoneinfo and sums by numpy."""

import csv
import io
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import Quantity
from daemon.reports.csv_lines import HEAD, Lines, Row, cell, head_line, quality_word
from sensors.calibration import Piece

MADRID = ZoneInfo("Europe/Madrid")
RAW = (Piece(0, 1.0, 0.0, 0.3),)
AIR = Quantity.AIR_TEMPERATURE.value


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def table(rows: list[Row], zone: ZoneInfo = MADRID, pieces: tuple[Piece, ...] = RAW) -> list[dict[str, str]]:
    return read(head_line() + Lines("north-air/air", AIR, pieces, zone).of(rows))


def ms(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def test_the_hour_that_comes_twice_is_told_apart_and_the_one_that_never_comes_is_not_there() -> None:
    """The clocks of Madrid: forward on 29 March 2026, back on 25 October 2026, both at 01:00 UTC (EU 2000/84/EC)."""
    moments = ["2026-03-29T00:59:59+00:00", "2026-03-29T01:00:00+00:00"]
    moments += ["2026-10-25T00:30:00+00:00", "2026-10-25T01:30:00+00:00"]
    found = table([Row(ms(each), 28.0, 0) for each in moments])
    assert [each["time_local"] for each in found] == [
        "2026-03-29T01:59:59.000+01:00",
        "2026-03-29T03:00:00.000+02:00",
        "2026-10-25T02:30:00.000+02:00",
        "2026-10-25T02:30:00.000+01:00",
    ]
    assert found[2]["time_utc"] == "2026-10-25T00:30:00.000Z"


ZONES = ["Europe/Madrid", "Asia/Kathmandu", "Australia/Lord_Howe", "America/St_Johns", "Africa/Casablanca", "UTC"]


@given(st.lists(st.integers(0, 4_000_000_000_000), min_size=1, max_size=40, unique=True), st.sampled_from(ZONES))
def test_both_times_are_the_moment_that_was_stored(moments: list[int], name: str) -> None:
    zone = ZoneInfo(name)
    found = table([Row(each, 28.0, 0) for each in sorted(moments)], zone)
    for at_ms, line in zip(sorted(moments), found, strict=True):
        whole = datetime.fromtimestamp(at_ms // 1000, UTC).replace(microsecond=at_ms % 1000 * 1000)
        assert datetime.fromisoformat(line["time_utc"]) == whole
        local = whole.astimezone(zone)
        assert line["time_local"] == local.isoformat(timespec="milliseconds")


def test_values_come_back_as_they_were_and_corrected_by_the_calibration_of_their_time() -> None:
    rows = [Row(1_780_000_000_000 + 60_000 * number, 28 + number / 7, 0) for number in range(1000)]
    change_ms = rows[400].at_ms
    found = table(rows, pieces=(RAW[0], Piece(change_ms, 1.01, -0.2, 0.1)))
    raw = np.array([float(each["value_raw"]) for each in found])
    assert raw.tolist() == [row.value for row in rows]
    calibrated = np.array([float(each["value_calibrated"]) for each in found])
    wanted = np.concatenate([raw[:400], raw[400:] * 1.01 - 0.2])
    assert calibrated.sum() == pytest.approx(wanted.sum(), abs=1000 * 5e-5)
    assert np.abs(calibrated - wanted).max() <= 5.1e-5
    assert {each["unit"] for each in found} == {"Cel"}


def test_a_suspect_reading_says_why_and_a_contact_has_no_calibrated_value() -> None:
    found = table([Row(0, 85.0, 2), Row(1, 28.0, 0), Row(2, 28.0, 12)])
    assert [each["quality"] for each in found] == ["fault value", "good", "too fast; stuck"]
    assert quality_word(64) == "suspect (64)"
    contact = read(head_line() + Lines("socket/mains", Quantity.MAINS.value, (), MADRID).of([Row(0, 1.0, 0)]))
    assert (contact[0]["value_raw"], contact[0]["value_calibrated"]) == ("1.0", "")
    assert contact[0]["unit"] == "0=absent 1=present"


@pytest.mark.parametrize("name", ["=1+1", "+cmd", "-x", "@sum", "\tx", "'x", "a,b", 'a"b', "a\r\nb"])
def test_no_channel_can_be_run_as_a_formula_or_break_a_line(name: str) -> None:
    text = Lines(name, AIR, RAW, MADRID).of([Row(0, -1.5, 0)])
    [line] = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert len(line) == len(HEAD)
    assert line[0][0] not in "=+-@\t\r\n"
    # One apostrophe is put before whatever could be run, and nothing else is changed.
    assert line[0] == (name if name in ("a,b", 'a"b', "a\r\nb") else f"'{name}")
    assert line[5] == "-1.5"
    assert text.endswith("\r\n")


def test_an_empty_page_is_empty_and_plain_text_stays_plain() -> None:
    assert Lines("x/y", AIR, RAW, MADRID).of([]) == ""
    assert cell("north-air/air") == "north-air/air"
