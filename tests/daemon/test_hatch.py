"""`clutchwarden hatch`: dates from what a keeper types, from a logger's file and from a site's journal."""

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner, Result

from daemon.commands import hatch

APP = typer.Typer()
APP.command()(hatch.hatch)
KEYS = {"earliest", "likely", "latest", "sd_days", "share", "thermal_constant_ch", "developmental_zero_c", "kind"}
KEYS |= {"degree_hours_low_ch", "degree_hours_ch", "degree_hours_high_ch", "reason", "parts_sd_days", "window"}
CORN = ("--species", "pantherophis-guttatus", "--laid", "2026-05-01", "--now", "2026-05-10")
RATSNAKE = ("--species", "elaphe-taeniura", "--laid", "2026-05-01")
COLUMNS = ("--time-column", "when", "--temperature-column", "air")
START = datetime(2026, 5, 1, tzinfo=UTC)


def call(*arguments: str) -> Result:
    return CliRunner().invoke(APP, [*arguments])


def answered(*arguments: str) -> dict[str, Any]:
    found = call(*arguments, "--json")
    assert found.exit_code == 0, found.stderr
    parsed: dict[str, Any] = json.loads(found.stdout)
    return parsed


def day(found: dict[str, Any], key: str) -> date:
    return date.fromisoformat(found[key])


def a_record(file: Path, days: float, at_c: float, start: datetime = START, step_min: int = 30) -> Path:
    count = int(days * 24 * 60 / step_min) + 1
    rows = [f"{start + timedelta(minutes=step_min * n):%Y-%m-%d %H:%M},{at_c}" for n in range(count)]
    file.write_text("\n".join(["when,air", *rows]), encoding="utf-8")
    return file


@pytest.mark.parametrize("at_c", ["27", "28", "29"])
def test_corn_snakes_of_early_may_are_expected_about_the_start_of_july(at_c: str) -> None:
    """Common practice, no source: kept at 27 to 29 °C, within a week either way."""
    found = answered(*CORN, "--temperature", at_c)
    assert set(found) >= KEYS
    assert abs(day(found, "likely") - date(2026, 7, 1)) <= timedelta(days=7)
    assert day(found, "earliest") < day(found, "likely") < day(found, "latest")
    assert found["window"] == [found["earliest"], found["latest"]]
    assert found["kind"] == "usual duration"


def test_the_keepers_own_record_takes_the_place_of_a_profile() -> None:
    """60 d at 28 °C from the middle of 1 May: 30 June. As by the profile, but for its range of days."""
    own = ("--duration-days", "60", "--at", "28", "--group", "snake", "--laid", "2026-05-01", "--now", "2026-05-10")
    found, profile = answered(*own, "--temperature", "28"), answered(*CORN, "--temperature", "28")
    assert day(found, "likely") == date(2026, 6, 30) == day(profile, "likely")
    assert found["developmental_zero_c"] == profile["developmental_zero_c"]
    assert found["sd_days"] < profile["sd_days"]


def test_the_keepers_own_record_overrules_the_line_of_a_species() -> None:
    found = answered(*RATSNAKE, "--now", "2026-05-10", "--temperature", "28", "--duration-days", "70", "--at", "28")
    assert day(found, "likely") == date(2026, 7, 10)
    assert found["kind"] == "usual duration"


def test_days_between_which_eggs_were_laid_widen_the_window() -> None:
    options = ("--species", "elaphe-taeniura", "--temperature", "28", "--now", "2026-05-20")
    one, range_ = answered(*options, "--laid", "2026-05-04"), answered(*options, "--laid", "2026-05-01..2026-05-07")
    assert one["likely"] == range_["likely"]
    assert range_["sd_days"] > one["sd_days"]
    assert range_["degree_hours_low_ch"] < one["degree_hours_low_ch"]
    assert range_["degree_hours_ch"] == pytest.approx(one["degree_hours_ch"])


def test_heat_is_that_of_the_hours_since_the_middle_of_the_laying_day() -> None:
    """Zero 13.2 °C in the profile; 12 h before the end of 1 May to the start of 11 May are 228 h, at 15 K above it."""
    found = answered(*RATSNAKE, "--temperature", "28.2", "--now", "2026-05-11")
    assert found["degree_hours_ch"] == pytest.approx(228 * 15, rel=1e-4)
    assert found["share"] == pytest.approx(228 * 15 / 21788, rel=1e-4)


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--species", "chamaeleo-calyptratus", "--temperature", "27"), "diapause"),
        (("--species", "malacochersus-tornieri", "--temperature", "29"), "arrest"),
        (("--species", "elaphe-taeniura", "--temperature", "12"), "standing still"),
        (("--species", "correlophus-ciliatus", "--temperature", "19"), "more than a third"),
    ],
)
def test_a_refused_date_says_why_and_is_no_mistake(options: tuple[str, ...], why: str) -> None:
    arguments = (*options, "--laid", "2026-05-01", "--now", "2026-05-10")
    found = answered(*arguments)
    assert [found[key] for key in ("window", "earliest", "likely", "latest")] == [None] * 4
    assert why in found["reason"]
    told = call(*arguments)
    assert told.exit_code == 0
    assert "no date" in told.stdout
    assert why in told.stdout


def test_people_read_the_dates_the_share_the_reason_and_the_caution() -> None:
    told = call("--species", "naja-atra", "--laid", "2026-05-01", "--temperature", "28", "--now", "2026-05-20").stdout
    for words in (
        "Chinese cobra",
        "earliest 2026-",
        "likely   2026-",
        "latest   2026-",
        "% of 13,559",
        "Caution: Venomous",
    ):
        assert words in told
    assert "From a line through published durations." in told


def test_a_logger_that_lay_with_the_eggs_all_the_time_says_what_one_temperature_says(tmp_path: Path) -> None:
    file = a_record(tmp_path / "log.csv", 30, 27.0)
    by_file = answered(*RATSNAKE, "--file", str(file), *COLUMNS)
    stated = answered(*RATSNAKE, "--temperature", "27", "--now", "2026-05-31")
    assert by_file["degree_hours_ch"] == pytest.approx(stated["degree_hours_ch"], rel=1e-4)
    assert by_file["likely"] == stated["likely"]
    assert by_file["parts_sd_days"]["the probe"] == pytest.approx(stated["parts_sd_days"]["the probe"], rel=1e-3)
    assert by_file["parts_sd_days"]["the temperature from now on"] > 0


def test_days_before_and_gaps_within_records_widen_the_window(tmp_path: Path) -> None:
    first = a_record(tmp_path / "a.csv", 10, 27.0, START + timedelta(days=3))
    second = a_record(tmp_path / "b.csv", 10, 27.0, START + timedelta(days=15))
    found = answered(*RATSNAKE, "--file", str(first), "--file", str(second), *COLUMNS, "--temperature", "27")
    whole = answered(*RATSNAKE, "--file", str(a_record(tmp_path / "c.csv", 25, 27.0)), *COLUMNS)
    assert found["degree_hours_ch"] == pytest.approx(whole["degree_hours_ch"], rel=1e-4)
    assert found["parts_sd_days"]["gaps and the time before set-up"] > 0.5
    assert whole["parts_sd_days"]["gaps and the time before set-up"] == 0
    assert found["sd_days"] > whole["sd_days"]


def test_what_comes_is_like_the_last_three_days_of_the_record(tmp_path: Path) -> None:
    warm = a_record(tmp_path / "a.csv", 20, 29.0)
    cool = a_record(tmp_path / "b.csv", 3, 25.0, START + timedelta(days=20, minutes=30))
    found = answered(*RATSNAKE, "--file", str(warm), "--file", str(cool), *COLUMNS)
    heat_ch = (19.5 * 24 * 15.8) + 72 * 11.8
    left_days = (21788 - heat_ch) / 11.8 / 24
    assert abs(day(found, "likely") - (date(2026, 5, 24) + timedelta(days=left_days))) <= timedelta(days=1)


def test_overlapping_files_that_contradict_each_other_are_refused(tmp_path: Path) -> None:
    one, other = a_record(tmp_path / "a.csv", 5, 27.0), a_record(tmp_path / "b.csv", 5, 28.0)
    found = call(*RATSNAKE, "--file", str(one), "--file", str(other), *COLUMNS)
    assert found.exit_code == 2
    assert "another file says 27" in found.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((*CORN,), "--temperature"),
        (("--laid", "2026-05-01", "--temperature", "28"), "--species"),
        (("--species", "pantherophis-guttatus", "--temperature", "28"), "--laid"),
        ((*CORN, "--temperature", "82"), "°F"),
        ((*CORN, "--temperature", "nan"), "not a temperature"),
        ((*CORN, "--temperature", "28", "--temperature-u", "-1"), "--temperature-u"),
        (("--species", "corn snake", "--laid", "2026-05-01", "--temperature", "28"), "pantherophis-guttatus"),
        (
            ("--species", "elaphe-taeniura", "--laid", "2026-05-09", "--temperature", "28", "--now", "2026-05-08"),
            "--laid",
        ),
        ((*CORN, "--temperature", "28", "--duration-days", "60"), "--at"),
        ((*CORN, "--temperature", "28", "--duration-days", "-3", "--at", "28"), "--duration-days"),
        ((*CORN, "--temperature", "28", "--duration-days", "9.5", "--at", "28"), "10 to 400"),
        ((*CORN, "--temperature", "28", "--duration-days", "401", "--at", "28"), "10 to 400"),
        ((*CORN, "--temperature", "28", "--site", "nowhere"), "nowhere"),
        (("--duration-days", "60", "--at", "28", "--laid", "2026-05-01", "--temperature", "28"), "--group"),
        ((*CORN, "--file", "log.csv"), "--time-column"),
        ((*CORN, "--temperature", "28", "--profiles", "nowhere"), "nowhere"),
        ((*CORN, "--temperature", "28", "--time-zone", "Mars/Olympus"), "Mars/Olympus"),
        (("site", "--species", "elaphe-taeniura"), "on record"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(arguments: tuple[str, ...], words: str) -> None:
    found = call(*arguments)
    assert found.exit_code == 2
    assert words in found.stderr
    assert "Traceback" not in found.output


@pytest.mark.parametrize("text", ["2026-13-01", "yesterday", "2026-05-03..2026-05-01"])
def test_a_day_that_is_none_is_refused(text: str) -> None:
    found = call("--species", "elaphe-taeniura", "--laid", text, "--temperature", "28")
    assert found.exit_code == 2
    assert "--laid" in found.stderr


def test_profiles_of_the_keepers_own_count(tmp_path: Path) -> None:
    text = (Path("config/profiles/pantherophis-guttatus.toml")).read_text(encoding="utf-8")
    own = text.replace('id = "pantherophis-guttatus"', 'id = "my-snake"').replace("days_low = 55", "days_low = 65")
    (tmp_path / "my-snake.toml").write_text(own, encoding="utf-8")
    options = ("--laid", "2026-05-01", "--now", "2026-05-10", "--temperature", "28", "--profiles", str(tmp_path))
    assert day(answered("--species", "my-snake", *options), "likely") == date(2026, 7, 5)


def test_profiles_of_a_site_count_as_they_do_for_species(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (Path("config/profiles/pantherophis-guttatus.toml")).read_text(encoding="utf-8")
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "my-snake.toml").write_text(
        text.replace('id = "pantherophis-guttatus"', 'id = "my-snake"'), encoding="utf-8"
    )
    options = ("--species", "my-snake", "--laid", "2026-05-01", "--now", "2026-05-10", "--temperature", "28")
    by_option = answered(*options, "--site", str(tmp_path))
    monkeypatch.setenv("CLUTCHWARDEN_SITE", str(tmp_path))
    assert answered(*options) == by_option


def test_a_file_is_told_as_it_was_read_and_so_is_what_was_assumed_beside_it(tmp_path: Path) -> None:
    file = a_record(tmp_path / "log.csv", 5, 27.0, START + timedelta(days=3))
    told = call(*RATSNAKE, "--file", str(file), *COLUMNS, "--temperature", "26").stdout
    for words in (
        f"{file}, read as:",
        "time zone    UTC (no --time-zone given)",
        "readings     241, 27.0 to 27.0 °C",
        "left out     nothing",
        "Assumed: 26.0 °C from laying to the first reading; 26.0 °C from now on.",
    ):
        assert words in told
    without = answered(*RATSNAKE, "--file", str(file), *COLUMNS, "--time-zone", "Europe/Madrid")
    assert without["read_as"][str(file)]["time zone"] == "Europe/Madrid (given)"
    assert without["assumed"].startswith("anything that eggs stand from laying to the first reading; 27.0 °C from now")
    whole = answered(*RATSNAKE, "--file", str(a_record(tmp_path / "whole.csv", 5, 27.0)), *COLUMNS)
    assert "the files begin at laying or before" in whole["assumed"]
    assert "read_as" not in answered(*CORN, "--temperature", "28")


def test_an_own_record_of_a_group_whose_development_rests_is_warned_of() -> None:
    own = ("--duration-days", "200", "--at", "26", "--laid", "2026-05-01", "--now", "2026-05-10", "--temperature", "26")
    assert "Caution: Development of many chameleons rests" in call(*own, "--group", "chameleon").stdout
    assert "Caution" not in call(*own, "--group", "gecko").stdout


def test_an_overdue_clutch_has_the_true_end_of_its_window_and_no_share_far_above_all() -> None:
    """Ratsnake at 28.2 °C takes 60.5 d: due on 30 June; on 1 October nothing of that has moved."""
    late = answered(*RATSNAKE, "--temperature", "28.2", "--now", "2026-10-01")
    early = answered(*RATSNAKE, "--temperature", "28.2", "--now", "2026-05-20")
    assert (late["likely"], late["standing"]) == (early["likely"], "overdue")
    assert day(late, "latest") < date(2026, 8, 1)
    told = call(*RATSNAKE, "--temperature", "28.2", "--now", "2026-10-01").stdout
    assert f"latest   {late['latest']} (over)" in told
    assert ", more than 120 % of 21,788" in told


def test_kept_above_the_lethal_limit_there_is_no_date_and_the_limit_is_named() -> None:
    told = call(*RATSNAKE, "--temperature", "35", "--now", "2026-05-20").stdout
    assert "no date" in told
    assert "35.0 °C is above the lethal limit of 34 °C. No date." in told


def test_every_figure_of_what_makes_it_unsure_is_at_the_level_of_the_window() -> None:
    options = (*RATSNAKE, "--temperature", "28.2", "--now", "2026-05-20")
    found, told = answered(*options), call(*options).stdout
    assert f"(all together {1.645 * found['sd_days']:.1f}):" in told
    for name, sd_days in found["parts_sd_days"].items():
        if sd_days > 0.1:
            assert f"{1.645 * sd_days:4.1f}  {name}" in told
