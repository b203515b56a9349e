"""Gaps of one channel and of a whole site. Times by hand, in minutes; the patience is that of the alarm of silence."""

import sqlite3
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import Quantity
from daemon.review.gaps import common, gaps, is_certain, overlaps, site_gaps
from daemon.review.values import Span
from daemon.storage import heard_times, samples
from daemon.storage.journal import Journal
from sensors.reading import ChannelKey, Reading
from tests.support.journals import new_journal

MINUTE_MS = 60_000
NOW_MS = 1_000 * MINUTE_MS


def span(from_min: float, to_min: float | None) -> Span:
    return Span(round(from_min * MINUTE_MS), None if to_min is None else round(to_min * MINUTE_MS))


# A probe that sends each minute may miss two readings: three intervals, `daemon/alarms/silence.py`.
def test_a_step_longer_than_three_intervals_is_a_gap() -> None:
    times = [minute * MINUTE_MS for minute in (0, 1, 2, 5, 6, 10, 11)]
    assert gaps(times, 60) == [span(6, 10)]
    assert gaps(times, 120) == []
    assert gaps([], 60) == gaps([5], 60) == []


# What was measured within the patience of three minutes comes late five minutes later: `daemon/alarms/lateness.py`.
@pytest.mark.parametrize(
    ("gap", "now_min", "certain"),
    [(span(0, 4), 8, False), (span(0, 4), 8.1, True), (span(0, None), 8, False), (span(0, None), 8.1, True)],
)
def test_a_gap_is_certain_once_nothing_can_fill_it_in_time(gap: Span, now_min: float, certain: bool) -> None:
    assert is_certain(gap, 60, round(now_min * MINUTE_MS)) is certain


@pytest.mark.parametrize(
    ("probes", "found"),
    [
        ({"a": [[span(10, 50)]], "b": [[span(12, 40)]]}, [span(12, 40)]),
        ({"a": [[span(10, None)]], "b": [[span(12, None)]]}, [span(12, None)]),
        # One that spoke all along, and one channel of a probe that spoke.
        ({"a": [[span(10, 50)]], "b": [[]]}, []),
        ({"a": [[span(10, 50)], []], "b": [[span(12, 40)]]}, []),
        # One probe alone is no site, and one that has been dead for long does not count for two.
        ({"a": [[span(10, 50)]]}, []),
        ({"a": [[span(10, 500)]], "b": [[span(300, 400)]]}, []),
        ({"a": [[span(10, None)]], "b": [[span(300, 400)]], "c": [[span(301, 420)]]}, [span(301, 400)]),
        # A dead one that comes back ends it as well.
        ({"a": [[span(10, 350)]], "b": [[span(300, 400)]], "c": [[span(301, 420)]]}, [span(301, 350)]),
        # By chance for some seconds.
        ({"a": [[span(10, 15)]], "b": [[span(14, 20)]]}, []),
        ({"a": [[span(10, 20), span(60, 90)]], "b": [[span(11, 22), span(61, 80)]]}, [span(11, 20), span(61, 80)]),
        ({}, []),
    ],
)
def test_nothing_heard_of_a_whole_site(probes: dict[str, list[list[Span]]], found: list[Span]) -> None:
    assert site_gaps(probes, NOW_MS) == found


@given(st.integers(0, 50), st.integers(0, 50), st.integers(0, 50), st.integers(0, 50))
def test_stretches_overlap_where_they_share_a_moment(start: int, length: int, other: int, other_length: int) -> None:
    one, two = Span(start, start + length), Span(other, other + other_length)
    shared = set(range(start, start + length + 1)) & set(range(other, other + other_length + 1))
    assert overlaps(one, two) is overlaps(two, one) is bool(shared)
    assert overlaps(Span(start, None), two) is (other + other_length >= start)


AIR = ChannelKey("a/t", "a", "t", Quantity.AIR_TEMPERATURE)


@pytest.fixture
def journal(tmp_path: Path) -> "Journal":
    return new_journal(tmp_path / "journal.sqlite3")


def test_the_journal_gives_the_gaps_that_plain_counting_gives(journal: Journal) -> None:
    """Readings that came late are not heard, and a query by parts gives what one over all gives."""
    minutes = [*range(10), *range(20, 40), *range(44, 60), 63, 66, 69, *range(80, 100)]
    late = set(range(50, 56)) | {66}
    rows = [
        Reading("a/t", each * MINUTE_MS, (each + (30 if each in late else 0)) * MINUTE_MS, 28.0, 0) for each in minutes
    ]

    def store(conn: sqlite3.Connection) -> int:
        ids = samples.channel_ids(conn, [AIR])
        samples.append(conn, ids, rows)
        return ids["a/t"]

    number = journal.write(store)
    heard = [each * MINUTE_MS for each in minutes if each not in late]
    with journal.read() as conn:
        steps = heard_times.steps(conn, number, 0, 100 * MINUTE_MS, 5 * MINUTE_MS, 3 * MINUTE_MS)
        assert [Span(*each) for each in steps] == gaps(heard, 60)
        assert heard_times.heard_before(conn, number, 56 * MINUTE_MS, 5 * MINUTE_MS, 0) == 49 * MINUTE_MS
        assert heard_times.heard_before(conn, number, 56 * MINUTE_MS, 5 * MINUTE_MS, 50 * MINUTE_MS) is None
        assert heard_times.heard_behind(conn, number, 63 * MINUTE_MS, 5 * MINUTE_MS, NOW_MS) == 69 * MINUTE_MS
        # Six readings between 49 and 56, the last of them of 55 came at 85; nothing is further apart than a minute.
        assert heard_times.filled(conn, number, 49 * MINUTE_MS, 56 * MINUTE_MS) == (6, 85 * MINUTE_MS, MINUTE_MS)
        assert heard_times.filled(conn, number, 69 * MINUTE_MS, 80 * MINUTE_MS) is None
    journal.close()


def test_a_contact_says_the_same_from_its_first_word_to_the_next_other_one(journal: Journal) -> None:
    key = ChannelKey("m/mains", "m", "mains", Quantity.MAINS)
    words = [1, 1, 0, 0, 0, 1, 1, 0, 1, 0, 0]

    def store(conn: sqlite3.Connection) -> int:
        ids = samples.channel_ids(conn, [key])
        samples.append(conn, ids, [Reading("m/mains", at, at, float(value), 0) for at, value in enumerate(words)])
        return ids["m/mains"]

    number = journal.write(store)
    whole = [(2, 5), (7, 8), (9, None)]
    with journal.read() as conn:
        assert heard_times.runs_of(conn, number, 0.0, 0, 20) == whole
        for start in range(12):
            for end in range(start, 12):
                wanted = [each for each in whole if each[0] <= end and (each[1] is None or each[1] > start)]
                found = heard_times.runs_of(conn, number, 0.0, start, end)
                assert [each for each in found if each in wanted] == wanted
                assert set(found) <= set(whole)
    journal.close()


silences = st.lists(st.integers(1, 40), max_size=12).map(
    lambda steps: [span(sum(steps[: i + 1]), sum(steps[: i + 2])) for i in range(0, len(steps) - 1, 2)]
)


def is_silent(channels: list[list[Span]], moment_ms: int) -> bool:
    return all(any(one.from_ms <= moment_ms < one.until(NOW_MS) for one in spans) for spans in channels)


@settings(max_examples=30)
@given(st.lists(silences, min_size=1, max_size=3), st.booleans())
def test_a_probe_is_silent_where_all_its_channels_are(channels: list[list[Span]], lasts: bool) -> None:
    """Held against every half minute of the time."""
    if lasts:
        channels = [[*spans, Span(spans[-1].until(0) + MINUTE_MS if spans else 0, None)] for spans in channels]
    found = common(channels)
    for moment in range(0, 500 * MINUTE_MS, MINUTE_MS // 2):
        assert is_silent(channels, moment) == any(each.from_ms <= moment < each.until(NOW_MS) for each in found)


@given(st.dictionaries(st.sampled_from("abcd"), st.lists(silences, min_size=1, max_size=2), min_size=2))
def test_a_site_is_silent_only_where_all_its_probes_are(probes: dict[str, list[list[Span]]]) -> None:
    for each in site_gaps(probes, NOW_MS):
        moments = range(each.from_ms, each.until(NOW_MS), MINUTE_MS)
        assert all(is_silent(channels, moment) for moment in moments for channels in probes.values())
