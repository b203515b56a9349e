"""Calibrations entered at a page: shown first, then stored, and the same as by command."""

import math
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.dashboards.calibrating import ONE_POINT, PATH, both_steps, offer_of
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.upkept import AIR, RH, START_MS, UpkeptHouse, error_beside, hidden, kept, upkept_house, words


@pytest.fixture
def house(tmp_path: Path) -> Iterator[UpkeptHouse]:
    """Monday 4 May 2026, 14:00 in Madrid."""
    with upkept_house(tmp_path) as made:
        yield made


def test_it_is_shown_before_it_is_stored_and_stored_as_it_was_shown(house: UpkeptHouse) -> None:
    house.put(AIR, [28.4])
    shown = house.send(PATH, {**ONE_POINT, "note": "certificate <17>"})
    offer = words(offer_of(shown.text))
    assert shown.status_code == 200
    assert "reference (± 0.1 °C): true 29.90 °C, the probe says 30.20" in offer
    assert "corrected = reading - 0.30 °C" in offer
    assert "Until now: not calibrated, ± 0.5 °C as stated or usual." in offer
    assert "shown as 28.40 °C, becomes 28.10" in offer
    assert "Counts from 2026-05-04 14:00; to be repeated by 2027-05-04." in offer
    assert house.on_record() == []
    house.now_ms += 3 * MINUTE_MS
    stored = house.send(PATH, {**hidden(offer_of(shown.text)), "wanted": "one-point"})
    assert (stored.status_code, stored.headers["Location"]) == (303, PATH)
    [record] = house.on_record()
    assert (record.valid_from_ms, record.taken_at_ms, record.recorded_at_ms) == (START_MS, START_MS, house.now_ms)
    assert (record.who, record.note, record.method) == ("mara", "certificate <17>", "one-point")
    assert record.line.corrected(30.2) == pytest.approx(29.9)
    page = house.words(PATH)
    assert "counts now" in page
    assert "by mara, entered 2026-05-04 14:03" in page
    assert "certificate <17>" in page


@pytest.mark.parametrize(
    ("fields", "command"),
    [
        (ONE_POINT, ("one-point", AIR, "--reference", "29.9", "--reading", "30.2", "--reference-accuracy", "0.1")),
        (
            {
                **ONE_POINT,
                "reading": "",
                "due": "26w",
                "since": "2026-04-01",
                "repeats": "0.07",
                "wanders": "0.2",
                "note": "n",
            },
            (
                *("one-point", AIR, "--reference", "29.9", "--reference-accuracy", "0.1", "--due", "26w"),
                *("--since", "2026-04-01", "--repeatability", "0.07", "--drift", "0.2", "--note", "n"),
            ),
        ),
        (
            {
                "wanted": "two-point",
                "low_reference": "25,0",
                "low_reading": "25.3",
                "high_reference": "35",
                "high_reading": "35.1",
                "accuracy": "0.2",
                "taken": "2026-05-03T09:30",
            },
            (
                *("two-point", AIR, "--low-reference", "25.0", "--low-reading", "25.3", "--high-reference", "35"),
                *("--high-reading", "35.1", "--reference-accuracy", "0.2", "--taken", "2026-05-03 09:30"),
            ),
        ),
        ({"wanted": "withdraw", "since": "2026-05-01"}, ("withdraw", AIR, "--since", "2026-05-01")),
    ],
)
def test_the_page_stores_the_same_row_as_the_command(
    house: UpkeptHouse, tmp_path: Path, fields: dict[str, str], command: tuple[str, ...]
) -> None:
    with upkept_house(tmp_path / "other") as other:
        for each in (house, other):
            each.put(AIR, [30.15, 30.25] * 10)
            if fields["wanted"] == "withdraw":
                before = ("one-point", AIR, "--reference", "30", "--reading", "30.2", "--reference-accuracy", "0.1")
                assert each.command("calibrate", *before, "--since", "2026-04-01", "--yes").exit_code == 0
        assert both_steps(house, PATH, **fields) == 303
        done = other.command("calibrate", *command, "--yes")
        assert done.exit_code == 0, done.stderr
        assert house.on_record() == other.on_record()
        assert len(house.on_record()) == (2 if fields["wanted"] == "withdraw" else 1)


def test_a_corrected_channel_asks_where_a_reading_was_read(house: UpkeptHouse) -> None:
    both_steps(house, PATH, **ONE_POINT)
    house.now_ms += DAY_MS
    asked = house.send(PATH, ONE_POINT)
    assert asked.status_code == 422
    assert "pages show another figure than the probe" in error_beside(asked.text, "one-point-shown")
    # A page shows 30.2 - 0.3, so what was read there as 29.9 was 30.2 of the probe.
    for typed in ({"reading": "29.9", "shown": "shown"}, {"reading": "30.2", "shown": "raw"}):
        offer = words(offer_of(house.send(PATH, {**ONE_POINT, **typed}).text))
        assert "the probe says 30.20" in offer
        assert "Until now: calibrated at one point on 2026-05-04" in offer


def test_what_is_overdue_comes_first_and_says_since_when(house: UpkeptHouse) -> None:
    kept(house, 100, 365)
    kept(house, 30, 20, RH)
    html = house.look("/set-up/calibration").text
    assert re.findall(r'id="channel-([^"]+)"', html) == [RH, AIR]
    text = words(html)
    assert "Calibration: 1 overdue" in text
    assert "overdue by 10 days" in text
    assert "due in 265 days" in text
    assert "Calibrated at one point on 2026-01-24, 100 days ago" in text
    found = {each["channel"]: each for each in house.look("/api/calibrations").json()["channels"]}
    assert (found[RH]["overdue"], found[AIR]["overdue"]) == (True, False)
    assert found[AIR]["shift"] == -0.3
    # JCGM 100:2008: 0.1/√3 of the reference, 0.05 at the point and 0.05 of the probe, drift 0.1/√3 x 100/365, slope
    # 0.0144 over 1.2 K from the point to the usual 29 °C.
    parts = (0.1 / math.sqrt(3), 0.05, 0.05, 0.1 / math.sqrt(3) * 100 / 365, 0.0144 * 1.2)
    assert found[AIR]["standard_uncertainty"] == pytest.approx(math.hypot(*parts), rel=1e-9)


def test_the_history_has_what_was_replaced_and_withdrawn(house: UpkeptHouse) -> None:
    kept(house, 100, 365, note="first")
    kept(house, 100, 365, note="second")
    assert both_steps(house, PATH, wanted="withdraw", note="new probe") == 303
    text = house.words(PATH)
    assert "From 2026-05-04 14:00: the correction was withdrawn no correction from here on Note: new probe" in text
    assert "counted until the next one" in text
    assert "replaced" in text
    assert "Not calibrated, ± 0.5 °C as stated or usual." in text


def test_humidity_has_the_salt_test_as_a_command_and_no_accuracy_needed(house: UpkeptHouse) -> None:
    path = f"/set-up/calibration/{RH}"
    assert f"clutchwarden calibrate salt {RH}" in house.words(path)
    assert "calibrate salt" not in house.words(PATH)
    offer = words(offer_of(house.send(path, {"wanted": "one-point", "reference": "75.3", "reading": "77"}).text))
    assert "reference (± 2 % RH): true 75.30 % RH, the probe says 77.00" in offer
    ratio = house.send(path, {"wanted": "one-point", "reference": "0.75", "reading": "0.77"})
    assert "looks like a ratio" in words(ratio.text)


def test_a_fahrenheit_site_types_and_reads_fahrenheit_and_keeps_celsius(tmp_path: Path) -> None:
    with upkept_house(tmp_path, fahrenheit=True) as house:
        house.put(AIR, [30.2])
        # t/°F = 9/5 t/°C + 32 (NIST SP 811, 2008, B.8): 86 °F is 30 °C, 86.9 °F is 30.5 °C; 0.9 °F apart are 0.5 K.
        fields = {"wanted": "one-point", "reference": "86", "reading": "86.9", "accuracy": "0.18"}
        shown = house.send(PATH, fields)
        offer = words(offer_of(shown.text))
        assert "reference (± 0.18 °F): true 86.00 °F, the probe says 86.90" in offer
        assert "corrected = reading - 0.90 °F" in offer
        assert "shown as 86.36 °F, becomes 85.46" in offer
        assert "°C" not in offer
        assert " K" not in offer
        assert house.send(PATH, {**hidden(offer_of(shown.text)), "wanted": "one-point"}).status_code == 303
        [record] = house.on_record()
        assert record.line.shift == pytest.approx(-0.5)
        assert record.line.points[0].reference == pytest.approx(30.0)
        assert record.line.points[0].reference_u == pytest.approx(0.1 / math.sqrt(3))
        page = house.words(PATH)
        assert "corrected = reading - 0.90 °F" in page
        assert "°C" not in page
        refused = words(house.send(PATH, {**fields, "reference": "300", "shown": "raw"}).text)
        assert "A reference of 300 °F cannot be. Give -22 to 140 °F." in refused
        found = house.look("/api/calibrations").json()["channels"][0]
        assert found["shift"] == pytest.approx(-0.5)


def test_a_line_with_a_gain_is_the_same_in_both_units(tmp_path: Path) -> None:
    with upkept_house(tmp_path, fahrenheit=True) as house:
        two = {"wanted": "two-point", "low_reference": "77", "low_reading": "77.9", "accuracy": "0.2"}
        offer = words(offer_of(house.send(PATH, {**two, "high_reference": "95", "high_reading": "95"}).text))
        [(gain, sign, shift)] = re.findall(r"corrected = ([\d.]+) x reading ([-+]) ([\d.]+) °F", offer)
        signed = float(shift) * (-1 if sign == "-" else 1)
        # Through both points, as they were typed; four digits of a gain are 0.005 °F at 95 °F.
        assert float(gain) * 77.9 + signed == pytest.approx(77, abs=0.02)
        assert float(gain) * 95 + signed == pytest.approx(95, abs=0.02)
