"""Names and manifests: what is written is read again, and nothing else is taken for one."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.backups.due import RETRY_MS, backup_is_due, trial_is_due
from daemon.backups.manifest import FileThere, Manifest, ManifestError, from_json, to_json
from daemon.backups.names import is_left_over, is_of, moment_of, name_of

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
WHOLE = Manifest(
    name="2026-10-03T013000Z-1f0c77aa",
    made_ms=1_791_000_000_000,
    version="0.1.0",
    schema=17,
    site="Hof am Bühl <3",
    origin="1f0c77aa",
    counts={"sample": 3},
    files=(FileThere("journal.sqlite3", 10, "ab"), FileThere("profiles/mine.toml", 1, "cd")),
)


def test_a_name_says_when_and_of_what_without_signs_that_a_share_refuses() -> None:
    # 1791000000 s is 2026-10-03 00:00:00 UTC plus 4 h: 20729 days of 86,400 s are 1,790,985,600 s.
    assert name_of(1_791_000_000_000, "1f0c77aa") == "2026-10-03T040000Z-1f0c77aa"


@given(st.integers(0, 4_000_000_000))
def test_the_moment_in_a_name_is_read_again_to_the_second(seconds: int) -> None:
    assert moment_of(name_of(seconds * 1000 + 999, "00000000")) == seconds * 1000


@pytest.mark.parametrize("name", ["photos", "2026-10-03", ".unfinished-2026-10-03T013000Z-1f0c77aa", "x", ""])
def test_other_names_are_no_backups(name: str) -> None:
    assert moment_of(name) is None


def test_a_backup_of_another_journal_is_neither_ours_nor_our_left_over() -> None:
    name = "2026-10-03T013000Z-1f0c77aa"
    assert is_of(name, "1f0c77aa")
    assert not is_of(name, "00000000")
    assert is_left_over(f".unfinished-{name}", "1f0c77aa")
    assert not is_left_over(f".unfinished-{name}", "00000000")
    assert not is_left_over(name, "1f0c77aa")


def test_a_manifest_is_read_as_it_was_written() -> None:
    assert from_json(to_json(WHOLE)) == WHOLE


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"what": "recipes"}, "something else"),
        ({"format": 2}, "newer version"),
        ({"format": "1"}, "newer version"),
        ({"counts": None}, "incomplete"),
        ({"files": [{"name": "../site.toml", "byte_count": 1, "sha256": ""}]}, "incomplete"),
        ({"files": [{"name": "/etc/passwd", "byte_count": 1, "sha256": ""}]}, "incomplete"),
        ({"made_ms": "tomorrow"}, "incomplete"),
    ],
)
def test_what_was_changed_is_refused_with_a_reason(change: dict[str, object], said: str) -> None:
    with pytest.raises(ManifestError, match=said):
        from_json(json.dumps({**json.loads(to_json(WHOLE)), **change}))


@given(st.text() | st.recursive(st.none() | st.integers() | st.text(), st.lists).map(json.dumps))
def test_no_text_is_more_than_refused(text: str) -> None:
    with pytest.raises(ManifestError):
        from_json(text)


def test_a_night_is_made_up_for_and_made_once() -> None:
    night, now = 100 * DAY_MS, 100 * DAY_MS + 5 * HOUR_MS
    assert backup_is_due(now, night, good_ms=night - 1, tried_ms=night - 1)
    assert not backup_is_due(now, night, good_ms=night, tried_ms=night)
    assert backup_is_due(now, night, good_ms=None, tried_ms=None)


def test_after_a_failure_it_waits_and_tries_again() -> None:
    night = 100 * DAY_MS
    assert not backup_is_due(night + 1000, night, good_ms=None, tried_ms=night)
    assert backup_is_due(night + RETRY_MS, night, good_ms=None, tried_ms=night)


def test_one_that_is_dated_years_ahead_counts_for_nothing() -> None:
    night, ahead = 100 * DAY_MS, 5000 * DAY_MS
    assert backup_is_due(night + 1, night, good_ms=ahead, tried_ms=ahead)
    assert trial_is_due(night, ahead, good=True)


def test_a_restore_is_tried_once_a_month_and_again_the_next_night_where_it_failed() -> None:
    assert trial_is_due(0, None, good=True)
    assert not trial_is_due(29 * DAY_MS, 0, good=True)
    assert trial_is_due(30 * DAY_MS, 0, good=True)
    assert not trial_is_due(6 * HOUR_MS, 0, good=False)
    assert trial_is_due(DAY_MS, 0, good=False)
