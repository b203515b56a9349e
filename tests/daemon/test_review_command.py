"""`clutchwarden review` at a keeper's terminal: what it says, to programs as well, what it refuses, and notes."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from daemon import cli
from tests.support.told_night import ToldNight, live_through, told_night


@pytest.fixture(scope="module")
def lived(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ToldNight]:
    with told_night(tmp_path_factory.mktemp("lived")) as night:
        live_through(night)
        yield night


def review(night: ToldNight, *options: str) -> Result:
    return CliRunner().invoke(cli.app, ["review", *options], env={"CLUTCHWARDEN_SITE": str(night.folder)})


def said(result: Result) -> str:
    assert result.exit_code == 0, result.output
    return " ".join(result.stdout.split())


def refused(night: ToldNight, *options: str) -> str:
    result = review(night, *options)
    assert result.exit_code == 2, result.output
    # Typer draws a frame around what it says itself.
    return " ".join(re.sub("[│╭╮╰╯─]", " ", result.output).split())


def test_without_options_it_tells_of_the_newest_incident(lived: ToldNight) -> None:
    text = said(review(lived))
    assert text.startswith("Test house: Incident 1: Mains lost What is looked at: Fri 29 May 2026 00:09 to 08:46")
    assert "the cause, as far as the journal shows it: the mains was lost." in text
    assert said(review(lived, "--incident", "1")).partition("Made")[0] == text.partition("Made")[0]


def test_the_list_names_each_with_its_cause_and_whether_a_review_is_due(lived: ToldNight) -> None:
    (line,) = review(lived, "--list").stdout.splitlines()
    assert line == (
        "1  Fri 29 May 2026 02:09  4 h 37 min  Mains lost  North cabinet; North cabinet, upper shelf; Room  REVIEW DUE"
    )
    (found,) = json.loads(review(lived, "--list", "--json").stdout)
    assert (found["number"], found["cause"], found["waits_for_review"]) == (1, "mains-lost", True)
    assert found["since"] == "2026-05-29T00:09:00.000Z"


def test_programs_get_all_of_it(lived: ToldNight) -> None:
    found = json.loads(review(lived, "--json").stdout)
    assert found["format"] == "clutchwarden-review-1"
    assert found["incident"]["cause"] == "mains-lost"
    assert found["period"] == {"since": "2026-05-28T22:09:00.000Z", "until": "2026-05-29T06:46:00.000Z"}
    shelf = next(each for each in found["places"] if each["place"] == "north/upper")
    low = next(each for each in shelf["limits"] if each["kind"] == "low")
    assert low["verdict"] == "out"
    assert low["outside_ms"]["low"] <= low["outside_ms"]["best"] <= low["outside_ms"]["high"]
    (gap,) = shelf["gaps"]
    lengths = {len(gap["course"][name]) for name in ("at", "low_c", "best_c", "high_c")}
    assert len(lengths) == 1
    assert found["clutches"][0]["label"] == "Juniper"


def test_a_period_of_ones_own_in_local_time(lived: ToldNight) -> None:
    text = said(review(lived, "--since", "2026-05-29 01:00", "--until", "2026-05-29T07:00"))
    assert text.startswith("Test house: Review of a period What is looked at: Fri 29 May 2026 01:00 to 07:00")
    assert "the journal shows 1 incident: 1 (mains lost)." in text


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (
            ["--incident", "7"],
            "There is no incident 7. The nearest: 1, from Fri 29 May 2026 02:09 to 06:46 (4 h 37 min)",
        ),
        (["--since", "2026-05-29 06:00", "--until", "2026-05-29 05:00"], "The period ends before it begins."),
        (["--since", "2126-05-29", "--until", "2126-05-30"], "The period lies ahead: it is"),
        (
            ["--since", "2026-01-29", "--until", "2026-01-30"],
            "The journal knows nothing of this time: it begins Sat 23 May",
        ),
        (["--since", "2026-04-01", "--until", "2026-05-29"], "Give one of at most 35 d."),
        (["--until", "2026-05-29"], "--until needs --since"),
        (["--list", "--incident", "1"], "Give one of --list, --incident, or --since with --until."),
        (["--since", "yesterday"], "'yesterday' is not a date"),
        (["note", "7", "--cause", "a fuse"], "There is no incident 7. The nearest: 1,"),
        (["note", "1"], "Nothing is to be written: give --cause"),
        (["note", "1", "--cause", "   "], "Nothing is written there."),
        (["note", "1", "--outcome", "x" * 4001], "This is too long."),
    ],
)
def test_bad_input_is_refused_in_words_with_exit_code_2(lived: ToldNight, options: list[str], says: str) -> None:
    assert says in refused(lived, *options)


def test_a_site_without_incidents_says_how_to_go_on(tmp_path: Path) -> None:
    with told_night(tmp_path) as night:
        assert "No incident is on record" in said(review(night))
        assert "No incident is on record" in said(review(night, "--list"))
        assert json.loads(review(night, "--json").stdout) is None
        assert json.loads(review(night, "--list", "--json").stdout) == []
        assert "There is no incident 1. No incident is on record" in refused(night, "--incident", "1")
        assert "The journal holds nothing yet" in refused(night, "--since", "2026-05-01", "--until", "2026-05-02")


def test_notes_are_kept_with_who_says_so_and_end_the_review(tmp_path: Path) -> None:
    with told_night(tmp_path) as night:
        live_through(night)
        told = said(review(night, "note", "1", "--cause", "a digger cut the cable", "--action", "none", "--by", "Ana"))
        assert told == "Written to incident 1: cause, action. Not written yet: outcome, prevention."
        assert "Cause: a digger cut the cable (Ana," in said(review(night))
        assert "REVIEW DUE" in review(night, "--list").stdout
        more = ["--outcome", "all eggs sound", "--prevention", "a battery"]
        assert said(review(night, "note", "1", *more)).endswith("All four parts are written.")
        assert "REVIEW DUE" not in review(night, "--list").stdout
        notes = json.loads(review(night, "--json").stdout)["notes"]
        assert [(each["field"], each["text"]) for each in notes][2:] == [
            ("outcome", "all eggs sound"),
            ("prevention", "a battery"),
        ]


def test_the_printed_sheet_goes_to_a_file(lived: ToldNight, tmp_path: Path) -> None:
    file = tmp_path / "sheet.html"
    assert f"Written to {file}." in said(review(lived, "--html", str(file)))
    sheet = file.read_text(encoding="utf-8")
    assert "<!doctype html>" in sheet.lower()
    assert "the mains was lost" in sheet
    assert "Juniper" in sheet
    assert "<script" not in sheet.lower()
    assert "cannot be written: no such file or directory." in refused(
        lived, "--html", str(tmp_path / "no" / "sheet.html")
    )
