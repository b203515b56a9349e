"""The page of backups, its twin for programs, and the line in `/health`."""

import json
from dataclasses import replace
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from fastapi import FastAPI

from daemon.backups.told import NONE_CONFIGURED, BackupStanding, restore_lines, standing_line
from daemon.storage.backups import BackupRun, RestoreTest
from dashboards.app import create_app
from dashboards.backups_view import backups_view
from tests.dashboards import samples
from tests.dashboards.asking import ask

MADRID = ZoneInfo("Europe/Madrid")
HOUR_MS = 3_600_000
NOW = 1_790_000_000_000  # 21 September 2026, 16:13 in Madrid
GOOD = BackupRun(
    NOW - 12 * HOUR_MS, NOW - 12 * HOUR_MS + 4200, "/mnt/<b>eggs", "2026-09-21T021320Z-1f0c77aa", True, 21_000_000, ""
)
FAILED = BackupRun(NOW - HOUR_MS, NOW - HOUR_MS, "/mnt/<b>eggs", "", False, 0, "the disk is full")
TEST = RestoreTest(NOW - 12 * HOUR_MS, NOW - 12 * HOUR_MS + 9000, GOOD.name, True, "500 readings; 1 open clutch")
WELL = BackupStanding(NOW, "/mnt/<b>eggs", "03:30", "", GOOD, (FAILED, GOOD), TEST)


class Pages:
    zone = MADRID

    def __init__(self, standing: BackupStanding) -> None:
        self._standing = standing

    def look(self) -> BackupStanding:
        return self._standing

    def runs(self, before: int | None, limit: int) -> list[tuple[int, BackupRun]]:
        numbered = list(enumerate(reversed(self._standing.runs), start=1))
        return [each for each in reversed(numbered) if before is None or each[0] < before][:limit]

    def line(self) -> str:
        return standing_line(self._standing, MADRID)


def app(standing: BackupStanding = WELL) -> FastAPI:
    return create_app(samples.overview, backups=Pages(standing))


def test_the_page_says_first_when_the_newest_was_made_where_and_whether_it_restores() -> None:
    page = unescape(ask(app(), "/set-up/backups").text)
    assert "The newest good backup is of 21 Sep 2026, 04:13, 21 MB without photos." in page
    assert "kept in /mnt/<b>eggs" in page
    assert "A restore was tried on 21 Sep 2026, 04:13, and it is whole: 500 readings; 1 open clutch" in page
    assert page.index("failed") < page.index("the disk is full") < page.index("made</b>")


def test_what_a_good_one_warns_of_is_shown() -> None:
    view = backups_view(replace(WELL, runs=(GOOD._replace(told="It is on the same disk."),)), MADRID)
    [line] = view.lines
    assert line.word == "made"
    assert line.told == f"{GOOD.name}, 21 MB, 4.2 s. It is on the same disk."


def test_a_name_with_markup_is_text() -> None:
    assert "<b>eggs" not in ask(app(), "/set-up/backups").text


def test_without_a_folder_it_says_so_calmly_and_how_to_begin() -> None:
    view = backups_view(replace(WELL, folder="", good=None, runs=(), test=None), MADRID)
    assert view.facts == (NONE_CONFIGURED,)
    assert view.trouble == ""
    assert "clutchwarden backup --set-up" in view.hint


@pytest.mark.parametrize(
    ("standing", "said"),
    [
        (
            replace(WELL, trouble="the backup folder /mnt/x is not there"),
            "Nothing can be written now: the backup folder",
        ),
        (replace(WELL, good=None), "There is no good backup yet."),
        (replace(WELL, test=None), "No restore was tried yet"),
        (replace(WELL, test=TEST._replace(good=False, told="it is damaged")), "and it FAILED: it is damaged"),
    ],
)
def test_what_is_not_well_is_said(standing: BackupStanding, said: str) -> None:
    assert said in unescape(ask(app(standing), "/set-up/backups").text)


def test_the_same_is_there_for_programs() -> None:
    found = json.loads(ask(app(), "/api/backups").text)
    assert (found["folder"], found["at"], found["trouble"]) == ("/mnt/<b>eggs", "03:30", "")
    assert found["good"]["byte_count"] == 21_000_000
    assert [each["good"] for each in found["runs"]] == [False, True]
    assert found["test"]["good"]


def test_the_line_names_no_folder_and_is_no_reason_to_be_ill() -> None:
    assert standing_line(WELL, MADRID) == "The newest good backup is of 04:13; the restore test of 04:13 went well."
    none = replace(WELL, folder="", good=None)
    assert standing_line(none, MADRID) == NONE_CONFIGURED


def test_health_has_the_line_for_whoever_has_signed_in_and_judges_nothing_by_it() -> None:
    for standing in (WELL, replace(WELL, folder="", good=None)):
        answer = ask(app(standing), "/health")
        assert answer.json()["backup"] == standing_line(standing, MADRID)
        assert answer.status_code == 200


def test_a_restore_that_went_well_is_news_for_a_day() -> None:
    assert restore_lines(TEST, NOW) == ("A backup was restored to try it, and is whole: 500 readings; 1 open clutch.",)
    assert restore_lines(TEST, TEST.ended_ms + 24 * HOUR_MS) == ()
    assert restore_lines(TEST._replace(good=False), NOW) == ()
    assert restore_lines(None, NOW) == ()
