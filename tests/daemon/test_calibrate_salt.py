"""The salt test: the guide, readings by hand and from the journal, and the session that leads through the jars."""

import math
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer
from freezegun import freeze_time

from daemon.commands import calibrate_salt
from tests.daemon.test_calibrate import AIR, NOW, NOW_MS, RH, as_json, calibrate, put, said, stored
from tests.support.household import MINUTE_MS, write_site
from tests.support.tables import read_table

PRINTED = {(row["salt"], row["temperature_c"]): row for row in read_table("salt-fixed-points.csv")}
HOUR_MS = 60 * MINUTE_MS
BY_HAND = ("--salt", "NaCl", "--reading", "76.9", "--salt", "K2SO4", "--reading", "97.9")
AT_25 = ("--temperature", "25", "--temperature", "25")


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Path]:
    with freeze_time(NOW):
        yield write_site(tmp_path / "site", 1883)


def test_readings_by_hand_over_two_salts_give_the_line_of_the_worked_table(site: Path) -> None:
    [row] = [row for row in read_table("two-point-check.csv") if row["salts"] == "NaCl K2SO4"]
    found = as_json(calibrate(site, "salt", RH, *BY_HAND, *AT_25, "--difference", "0", "--yes", "--json"))
    # The table cuts the humidities off after two decimals: 0.01 of about 22.
    assert found["gain"] == pytest.approx(float(row["gain"]), abs=1e-3)
    assert found["gain"] * 88.0 + found["shift"] == pytest.approx(float(row["corrected"]), abs=0.011)
    for point, name in zip(found["points"], ("NaCl", "K2SO4"), strict=True):
        assert point["reference"] == pytest.approx(float(PRINTED[name, "25"]["relative_humidity_pct"]), abs=0.011)
        assert point["reference_u"] == pytest.approx(float(PRINTED[name, "25"]["limits_pct"]) / math.sqrt(3))
    assert found["method"] == "salt, two-point"
    assert stored(site)[0].line.one_reference is False


def test_a_difference_of_temperature_makes_the_reference_less_sure(site: Path) -> None:
    alike, usual = (
        as_json(calibrate(site, "salt", RH, *BY_HAND, *AT_25, *more, "--json")) for more in (("--difference", "0"), ())
    )
    # Each kelvin is 6 % of the reading at 25 °C (a calibrator's guide, at 20 °C); half of one, over NaCl:
    by_hand = math.hypot(alike["points"][0]["reference_u"], 0.06 * 0.5 * 75.29 / math.sqrt(3))
    assert usual["points"][0]["reference_u"] == pytest.approx(by_hand, rel=0.02)


def test_one_salt_gives_a_shift(site: Path) -> None:
    found = as_json(calibrate(site, "salt", RH, "--salt", "nacl", "--reading", "77.3", *AT_25[:2], "--json"))
    assert found["gain"] == 1.0
    assert found["shift"] == pytest.approx(75.29 - 77.3, abs=0.011)
    assert found["method"] == "salt, one-point"


def test_readings_in_the_journal_are_taken_with_the_temperature_of_the_probe(site: Path) -> None:
    first_ms, second_ms = NOW_MS - 3 * HOUR_MS, NOW_MS - HOUR_MS
    put(site, RH, [76.8, 77.0] * 10, first_ms)
    put(site, RH, [97.9] * 20, second_ms)
    put(site, AIR, [30.0] * 20, first_ms)
    put(site, AIR, [30.0] * 20, second_ms)
    moments = ("--read-at", "2026-05-04 11:00", "--read-at", "2026-05-04 13:00")  # Madrid, UTC+2
    found = as_json(calibrate(site, "salt", RH, "--salt", "NaCl", "--salt", "K2SO4", *moments, "--yes", "--json"))
    assert [point["reading"] for point in found["points"]] == pytest.approx([76.9, 97.9])
    assert [point["reference"] for point in found["points"]] == pytest.approx([75.09, 97.00], abs=0.011)
    assert found["taken_at_ms"] == second_ms


def test_readings_that_had_not_settled_then_are_not_taken(site: Path) -> None:
    put(site, RH, [80 - 0.2 * minute for minute in range(20)])
    put(site, AIR, [30.0] * 20)
    refused = calibrate(site, "salt", RH, "--salt", "NaCl", "--read-at", "2026-05-04 14:00", "--yes")
    assert refused.exit_code == 2
    assert "over NaCl: It still falls" in said(refused)
    assert stored(site) == []


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((AIR, *BY_HAND), "measures no humidity"),
        ((RH, "--reading", "76.9"), "Over which salt?"),
        ((RH, "--salt", "CaSO4", "--reading", "76.9"), "is not a salt that is known here"),
        ((RH, "--salt", "NaCl", "--salt", "nacl", "--reading", "1", "--reading", "2"), "two different ones"),
        ((RH, "--salt", "NaCl", "--salt", "KCl", "--salt", "LiCl"), "two different ones"),
        ((RH, "--salt", "NaCl", "--salt", "KCl", "--reading", "76.9"), "stands there 1 times for 2 salts"),
        ((RH, *BY_HAND, "--temperature", "25"), "--temperature stands there 1 times"),
        ((RH, *BY_HAND), "has no temperature of north-air"),
        ((RH, *BY_HAND, "--temperature", "17", "--temperature", "17"), "outside 20 to 35 °C"),
        ((RH, *BY_HAND, *AT_25, "--difference", "3"), "equal within 0.5 K"),
        ((RH, "--salt", "NaCl", "--read-at", "2026-05-05 12:00"), "--read-at is in the future"),
        ((RH, "--salt", "K2SO4", "--reading", "76.9", "--salt", "NaCl", "--reading", "97.9", *AT_25), "exchanged"),
    ],
)
def test_a_salt_test_that_cannot_be_is_refused_and_nothing_is_stored(
    site: Path, arguments: tuple[str, ...], words: str
) -> None:
    refused = calibrate(site, "salt", *arguments, "--yes")
    assert refused.exit_code == 2
    assert words in said(refused)
    assert stored(site) == []


def test_the_guide_has_the_waiting_times_the_order_and_the_cautions(site: Path) -> None:
    guide = as_json(calibrate(site, "salt", RH, "--salt", "KNO3", "--salt", "MgCl2", "--json"))
    words = " ".join([*guide["steps"], *guide["cautions"], *guide["sources"]])
    # A calibrator's guide: 24 h for the solution, 10 to 30 min a reading, 20 to 40 at high humidity, the dry one first.
    for needed in ("24 h", "Wait 10 to 30 min", "Wait 20 to 40 min", "within 0.5 K", "Feeds fire", "do not eat"):
        assert needed in words
    assert "Greenspan 1977" in words
    assert stored(site) == []


def test_the_guide_puts_the_dry_salt_first_whatever_the_order_given(site: Path) -> None:
    left = calibrate(site, "salt", RH, "--salt", "KNO3", "--salt", "MgCl2", answer="n\n")
    assert left.exit_code == 0
    assert "The dry one first: hang the probe into the MgCl2 jar" in said(left)
    assert "Come back with the same command" in said(left)
    assert stored(site) == []


class Keeper:
    """Answers each question after so many minutes."""

    def __init__(self, script: list[tuple[int, str]]) -> None:
        self.script = script
        self.now_ms = NOW_MS
        self.asked: list[str] = []

    def prompt(self, text: str, *_: object, **__: object) -> str:
        self.asked.append(text)
        minutes, answer = self.script.pop(0)
        self.now_ms += minutes * MINUTE_MS
        return answer


def guided(
    site: Path, monkeypatch: pytest.MonkeyPatch, script: list[tuple[int, str]], *arguments: str, answers: str = "y\ny\n"
) -> Keeper:
    keeper = Keeper(script)
    monkeypatch.setattr(typer, "prompt", keeper.prompt)
    monkeypatch.setattr(calibrate_salt, "now_ms", lambda: keeper.now_ms)
    done = calibrate(site, "salt", RH, *arguments, answer=answers)
    assert done.exit_code == 0, said(done)
    assert keeper.script == []
    keeper.asked.append(said(done))
    return keeper


def test_the_session_waits_reads_and_stores(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Dry jar for 25 min from 12:00, damp jar for 45 min: first too early, then not settled, then still."""
    put(site, RH, [76.9] * 20, NOW_MS + 25 * MINUTE_MS)
    damp = [97.9 - max(0.0, 15.0 - minute) for minute in range(45)]
    put(site, RH, damp, NOW_MS + 70 * MINUTE_MS)
    put(site, AIR, [25.0] * 75, NOW_MS + 70 * MINUTE_MS)
    script = [(0, ""), (10, ""), (15, ""), (0, ""), (21, ""), (24, "")]
    keeper = guided(site, monkeypatch, script)
    assert [text[:5] for text in keeper.asked[:3]] == ["NaCl:"] * 3
    assert "It is not yet" in keeper.asked[-1]
    assert "It still rises" in keeper.asked[-1]
    [record] = stored(site)
    assert [point.reading for point in record.line.points] == pytest.approx([76.9, 97.9])
    assert [point.reference for point in record.line.points] == pytest.approx([75.29, 97.30], abs=0.011)


def test_in_the_session_a_reading_may_be_typed_and_nonsense_is_asked_again(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    script = [(0, ""), (1, "about 77"), (1, "0.773"), (1, "77.3")]
    keeper = guided(site, monkeypatch, script, "--salt", "NaCl", "--temperature", "25")
    assert "'about 77' is not a number" in keeper.asked[-1]
    assert "looks like a ratio" in keeper.asked[-1]
    [record] = stored(site)
    assert record.line.points[0].reading == 77.3


@pytest.mark.parametrize(("answers", "uncorrected"), [("y\ny\ny\n", 77.3), ("y\nn\ny\n", 75.3)])
def test_the_session_asks_once_whether_a_corrected_channel_s_reading_is_from_a_page(
    site: Path, monkeypatch: pytest.MonkeyPatch, answers: str, uncorrected: float
) -> None:
    calibrate(site, "one-point", RH, "--reference", "78", "--reading", "80", "--yes")
    keeper = guided(site, monkeypatch, [(0, ""), (1, "75.3")], "--salt", "NaCl", *AT_25[:2], answers=answers)
    assert "is corrected already" in keeper.asked[-1]
    assert stored(site)[-1].line.points[0].reading == pytest.approx(uncorrected)


def test_without_a_temperature_on_record_the_session_asks_for_it_before_the_first_jar(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    script = [(0, "warm"), (0, "45"), (0, "25"), (0, ""), (25, "77.3")]
    keeper = guided(site, monkeypatch, script, "--salt", "NaCl")
    assert ["no temperature of north-air" in text for text in keeper.asked[:5]] == [True] * 3 + [False] * 2
    assert "'warm' is not a number" in keeper.asked[-1]
    assert "outside 20 to 35 °C" in keeper.asked[-1]
    [point] = stored(site)[0].line.points
    # Greenspan's printed table has 75.29 % for NaCl at 25 °C.
    assert point.reference == pytest.approx(float(PRINTED["NaCl", "25"]["relative_humidity_pct"]), abs=0.011)


def test_a_reading_typed_before_the_jar_is_closed_is_not_swallowed(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    script = [(0, "76.1"), (0, ""), (25, "77.3")]
    keeper = guided(site, monkeypatch, script, "--salt", "NaCl", *AT_25[:2])
    assert "Not taken: first only Enter" in keeper.asked[-1]
    assert stored(site)[0].line.points[0].reading == 77.3


@pytest.mark.parametrize(("minutes", "early"), [(5, True), (25, False)])
def test_a_reading_before_the_waiting_time_gets_a_remark_that_stays(
    site: Path, monkeypatch: pytest.MonkeyPatch, minutes: int, early: bool
) -> None:
    keeper = guided(site, monkeypatch, [(0, ""), (minutes, "77.3")], "--salt", "NaCl", *AT_25[:2])
    assert ("the probe may not have come to rest" in keeper.asked[-1]) == early
    assert ("read before its waiting time" in stored(site)[0].line.points[0].against) == early
