"""`clutchwarden calibrate`: what a keeper types, what is stored, and what is refused in words."""

import json
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from freezegun import freeze_time
from typer.testing import CliRunner, Result

from config.check import check_site
from daemon import cli
from daemon.storage import calibrations, samples
from sensors.calibration import Record
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.household import DAY_MS, MINUTE_MS, write_site
from tests.support.journals import new_journal

RUNNER = CliRunner()
NOW = "2026-05-04 12:00:00"
NOW_MS = 1_777_896_000_000
AIR, RH = "north-air/air", "north-air/rh"


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Path]:
    with freeze_time(NOW):
        yield write_site(tmp_path / "site", 1883)


def calibrate(site: Path, *arguments: str, answer: str = "") -> Result:
    return RUNNER.invoke(cli.app, ["calibrate", *arguments, "--site", str(site)], input=answer)


def stored(site: Path) -> list[Record]:
    with new_journal(site / "data" / "journal.sqlite3") as journal, journal.read() as conn:
        return calibrations.history(conn)


def put(site: Path, channel: str, values: Sequence[float], end_ms: int = NOW_MS) -> None:
    """One reading a minute, the last at the end."""
    checked = check_site(site)
    assert checked.site is not None
    channels = Decoder(checked.site).channels
    with new_journal(site / "data" / "journal.sqlite3") as journal:
        ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        moments = [end_ms - number * MINUTE_MS for number in range(len(values))][::-1]
        readings = [Reading(channel, at, at, value, 0) for at, value in zip(moments, values, strict=True)]
        journal.write(lambda conn: samples.append(conn, ids, readings))


def said(result: Result) -> str:
    return " ".join(f"{result.stdout} {result.stderr}".split())


def as_json(result: Result) -> Any:
    assert result.exit_code == 0, said(result)
    return json.loads(result.stdout)


CERTIFIED = ("--reference-accuracy", "0.1")
ONE_POINT = ("one-point", AIR, "--reference", "29.9", "--reading", "30.2", *CERTIFIED)


def test_one_point_shows_what_changes_asks_and_stores(site: Path) -> None:
    put(site, AIR, [28.4])
    done = calibrate(site, *ONE_POINT, "--who", "mara", "--note", "certificate 17", answer="y\n")
    assert done.exit_code == 0, said(done)
    assert "corrected = reading - 0.30 °C" in done.stdout
    assert "shown as 28.40 °C, becomes 28.10" in done.stdout
    [record] = stored(site)
    assert (record.channel, record.valid_from_ms, record.taken_at_ms) == (AIR, NOW_MS, NOW_MS)
    assert (record.who, record.note, record.method) == ("mara", "certificate 17", "one-point")
    assert record.line.corrected(30.2) == pytest.approx(29.9)
    assert record.due_at_ms == NOW_MS + 365 * DAY_MS


def test_nothing_is_stored_without_a_yes(site: Path) -> None:
    done = calibrate(site, *ONE_POINT, answer="n\n")
    assert done.exit_code == 0
    assert "Nothing was stored" in done.stdout
    assert as_json(calibrate(site, *ONE_POINT, "--json"))["stored"] is False
    assert stored(site) == []


def test_dates_are_as_stated(site: Path) -> None:
    dates = ("--since", "2026-03-01", "--taken", "2026-05-01 10:00", "--due", "180d")
    found = as_json(calibrate(site, *ONE_POINT, *dates, "--yes", "--json"))
    assert found["stored"] is True
    # Madrid: UTC+1 in March, UTC+2 in May.
    assert found["valid_from_ms"] == 1_772_319_600_000
    assert found["taken_at_ms"] == 1_777_622_400_000
    assert found["due_at_ms"] == found["taken_at_ms"] + 180 * DAY_MS
    [record] = stored(site)
    assert (record.valid_from_ms, record.due_at_ms) == (found["valid_from_ms"], found["due_at_ms"])


@pytest.mark.parametrize(("due", "days"), [("26w", 182), ("1y", 365), ("2026-05-14", 9.4167)])
def test_a_due_date_is_a_span_or_a_date(site: Path, due: str, days: float) -> None:
    found = as_json(calibrate(site, *ONE_POINT, "--due", due, "--json"))
    assert (found["due_at_ms"] - NOW_MS) / DAY_MS == pytest.approx(days, abs=1e-3)


def test_without_a_reading_it_is_the_mean_of_what_the_probe_said_and_has_settled(site: Path) -> None:
    put(site, AIR, [30.15, 30.25] * 10)
    found = as_json(calibrate(site, "one-point", AIR, "--reference", "29.9", *CERTIFIED, "--yes", "--json"))
    [point] = found["points"]
    assert point["reading"] == pytest.approx(30.2)
    # The readings scatter by 0.05, about what a probe repeats itself by: the larger counts.
    assert point["reading_u"] == pytest.approx(0.05 * math.sqrt(16 / 15), rel=1e-6)
    assert point["reference_u"] == pytest.approx(0.1 / math.sqrt(3))


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([30.0 + 0.05 * minute for minute in range(20)], "still rises"),
        ([30.0], "Only 1 good reading"),
        ([], "no good reading"),
    ],
)
def test_a_reading_that_has_not_settled_is_not_taken(site: Path, values: list[float], words: str) -> None:
    put(site, AIR, values)
    refused = calibrate(site, "one-point", AIR, "--reference", "29.9", *CERTIFIED, "--yes")
    assert refused.exit_code == 2
    assert words in said(refused)
    assert stored(site) == []


def test_a_corrected_channel_asks_whether_a_reading_is_shown_or_raw(site: Path) -> None:
    calibrate(site, *ONE_POINT, "--since", "2026-05-01", "--yes")
    asked = calibrate(site, *ONE_POINT, "--yes")
    assert asked.exit_code == 2
    assert "--shown" in said(asked)
    assert "--raw" in said(asked)
    # A page shows 30.2 - 0.3; the same moment typed either way gives the same point.
    raw = as_json(
        calibrate(site, "one-point", AIR, "--reference", "29.7", *CERTIFIED, "--reading", "30.2", "--raw", "--json")
    )
    shown = as_json(
        calibrate(site, "one-point", AIR, "--reference", "29.7", *CERTIFIED, "--reading", "29.9", "--shown", "--json")
    )
    assert shown["points"][0]["reading"] == pytest.approx(raw["points"][0]["reading"])
    assert raw["shift"] == pytest.approx(-0.5)


def test_two_points_of_one_reference_are_joined_by_a_line(site: Path) -> None:
    points = ("--low-reference", "20", "--low-reading", "20.4", "--high-reference", "32", "--high-reading", "32.2")
    found = as_json(calibrate(site, "two-point", AIR, *points, "--reference-accuracy", "0.05", "--yes", "--json"))
    # By hand: 12/11.8, and 20 - 20.4 of it.
    assert found["gain"] == pytest.approx(12 / 11.8)
    assert found["shift"] == pytest.approx(20 - 20.4 * 12 / 11.8)
    assert stored(site)[0].line.one_reference


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("one-point", "north-air/aire", "--reference", "29.9", "--reading", "30.2"), 'Did you mean "north-air/air"?'),
        (("one-point", AIR, "--reference", "29.9", *CERTIFIED, "--reading", "39.9"), "so far off it is broken"),
        (("one-point", AIR, "--reference", "85.8", *CERTIFIED, "--reading", "86.4"), "cannot be"),
        (("one-point", RH, "--reference", "0.75", "--reading", "0.769"), "looks like a ratio"),
        ((*ONE_POINT, "--reference-accuracy", "0"), "cannot be used"),
        ((*ONE_POINT, "--since", "2026-05-05"), "--since is in the future"),
        ((*ONE_POINT, "--taken", "2026-05-05"), "--taken is in the future"),
        ((*ONE_POINT, "--due", "soon"), "is not a date"),
        ((*ONE_POINT, "--due", "2026-05-01"), "not within ten years"),
        ((*ONE_POINT, "--due", "99y"), "not within ten years"),
        ((*ONE_POINT, "--drift", "-1"), "--drift: -1 cannot be"),
        ((*ONE_POINT, "--repeatability", "nan"), "--repeatability: nan cannot be"),
    ],
)
def test_what_cannot_be_is_refused_with_the_reason_and_nothing_is_stored(
    site: Path, arguments: tuple[str, ...], words: str
) -> None:
    refused = calibrate(site, *arguments, "--yes")
    assert refused.exit_code == 2
    assert words in said(refused).replace("│ ", "")
    assert stored(site) == []


def test_a_back_dated_one_says_where_the_next_on_record_takes_over(site: Path) -> None:
    calibrate(site, *ONE_POINT, "--taken", "2026-05-01", "--yes")
    done = calibrate(site, *ONE_POINT, "--raw", "--since", "2026-04-01", "--yes")
    assert "until 2026-05-01 00:00, where the next one on record takes over" in said(done)
    assert [record.valid_from_ms < NOW_MS - 2 * DAY_MS for record in stored(site)] == [True, True]


def test_the_list_says_for_every_channel_how_old_how_sure_and_when_due(site: Path) -> None:
    calibrate(site, *ONE_POINT, "--taken", "2026-04-24 14:00", "--due", "5d", "--yes")
    air, damp = as_json(calibrate(site, "list", "--json"))
    assert (air["channel"], damp["channel"]) == (AIR, RH)
    assert air["age_days"] == pytest.approx(10.0)
    assert (air["overdue"], damp["overdue"]) == (True, False)
    assert (damp["method"], damp["calibrated_ms"], damp["gain"], damp["shift"]) == (None, None, 1.0, 0.0)
    # Overdue: the usual ±0.5 K of a 1-wire thermometer's data sheet again; and ±3 % of a humidity never calibrated.
    assert air["standard_uncertainty"] == pytest.approx(0.5 / math.sqrt(3))
    assert damp["standard_uncertainty"] == pytest.approx(3 / math.sqrt(3))
    words = said(calibrate(site, "list"))
    assert "OVERDUE" in words
    assert "never" in words


def test_the_history_shows_every_record_with_its_points_and_who(site: Path) -> None:
    calibrate(site, *ONE_POINT, "--taken", "2026-05-01", "--who", "mara", "--yes")
    calibrate(site, "withdraw", AIR, "--who", "jan", "--note", "new probe", "--yes")
    found = as_json(calibrate(site, "show", AIR, "--json"))
    assert [(each["method"], each["who"]) for each in found["history"]] == [("one-point", "mara"), ("withdrawn", "jan")]
    assert found["history"][0]["points"][0]["reference"] == 29.9
    assert found["history"][1]["standard_uncertainty"] is None
    assert found["method"] is None
    words = said(calibrate(site, "show", AIR))
    assert "true 29.90 °C, the probe said 30.20" in words
    assert "taken back" in words
    assert "by jan, entered 2026-05-04 14:00. new probe" in words
    assert "not calibrated, ± 0.5 °C" in words


def test_a_correction_that_proves_nothing_is_remarked(site: Path) -> None:
    poor = as_json(calibrate(site, *ONE_POINT, "--reference-accuracy", "1.0", "--json"))
    assert any("makes nothing surer" in remark for remark in poor["remarks"])
    small = as_json(
        calibrate(site, "one-point", AIR, "--reference", "29.9", *CERTIFIED, "--reading", "29.92", "--json")
    )
    assert any("no fault of the probe shows" in remark for remark in small["remarks"])
    assert as_json(calibrate(site, *ONE_POINT, "--json"))["remarks"] == []


def test_the_accuracy_of_the_site_file_is_what_a_channel_is_held_against(site: Path) -> None:
    text = (site / "site.toml").read_text()
    stated = text.replace('quantity = "air_temperature"', 'quantity = "air_temperature"\naccuracy = 0.2')
    (site / "site.toml").write_text(stated)
    air, _ = as_json(calibrate(site, "list", "--json"))
    assert air["accuracy"] == 0.2
    assert air["standard_uncertainty"] == pytest.approx(0.2 / math.sqrt(3))


def test_how_good_a_reference_thermometer_is_is_asked_for(site: Path) -> None:
    points = ("--low-reference", "20", "--low-reading", "20.2", "--high-reference", "30", "--high-reading", "30.3")
    for number, typed in enumerate((ONE_POINT[: -len(CERTIFIED)], ("two-point", AIR, *points, "--raw"))):
        done = calibrate(site, *typed, answer="0.5\ny\n")
        assert done.exit_code == 0, said(done)
        assert "± of the reference thermometer" in said(done)
        assert stored(site)[number].line.points[0].reference_u == pytest.approx(0.5 / math.sqrt(3))


@pytest.mark.parametrize("more", [("--yes",), ("--json",), ()])
def test_where_nobody_can_say_how_good_the_reference_is_nothing_is_assumed(site: Path, more: tuple[str, ...]) -> None:
    refused = calibrate(site, *ONE_POINT[: -len(CERTIFIED)], *more)
    assert refused.exit_code == 2
    assert "--reference-accuracy 0.1" in said(refused)
    assert stored(site) == []


def test_a_channel_is_read_whole_in_the_list_on_a_narrow_screen(site: Path) -> None:
    file = site / "site.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("north-air", "north-cabinet-upper-air"), encoding="utf-8")
    listed = RUNNER.invoke(cli.app, ["calibrate", "list", "--site", str(site)], env={"COLUMNS": "80"})
    assert listed.exit_code == 0, said(listed)
    assert {"north-cabinet-upper-air/air", "north-cabinet-upper-air/rh"} <= set(listed.stdout.split())
    assert max(map(len, listed.stdout.splitlines())) <= 80
