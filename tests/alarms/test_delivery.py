"""What a message says, and when it is tried again."""

import json
from datetime import UTC, datetime
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import AlarmKind, Priority
from daemon.alarms.delivery import (
    SCHEDULES,
    GiveUp,
    Gone,
    MessageKind,
    MessageStatus,
    OutgoingMessage,
    Undeliverable,
    after_refusal,
    as_sent,
    next_attempt,
    rfc3339,
)
from tests.alarms.messages import message

HOUR_MS = 3_600_000
NEW_YEAR_2026_MS = 1_767_225_600_000
"""2026-01-01T00:00:00Z: 20 454 days of 86 400 s after the epoch."""


def waits_s(priority: Priority, *, jitter: float = 0.0, most: int = 400) -> list[float]:
    """Give the waits in a row, each attempt failing at once at the end of the wait before it."""
    now_ms, found = 0, []
    for attempts in range(1, most):
        plan = next_attempt(priority, attempts, 0, now_ms, after_s=None, jitter=jitter)
        if plan.wait_ms is None:
            break
        found.append(plan.wait_ms / 1000)
        now_ms += plan.wait_ms
    return found


def test_priority_1_is_tried_after_5_15_30_60_120_seconds_and_then_every_5_minutes_without_end() -> None:
    found = waits_s(Priority.CRITICAL)
    assert found[:6] == [5, 15, 30, 60, 120, 300]
    assert set(found[5:]) == {300}
    assert len(found) == 399
    year_later = next_attempt(Priority.CRITICAL, 100_000, 0, 366 * 24 * HOUR_MS, after_s=None, jitter=0.0)
    assert year_later.wait_ms == 300_000


@pytest.mark.parametrize("priority", [Priority.HIGH, Priority.LOW])
@pytest.mark.parametrize("jitter", [0.0, 0.999])
def test_lower_priorities_get_at_least_six_attempts_in_a_day_and_then_end(priority: Priority, jitter: float) -> None:
    found = waits_s(priority, jitter=jitter)
    assert len(found) + 1 >= 6
    assert 18 * 3600 < sum(found) <= 24 * 3600
    assert all(earlier <= later for earlier, later in pairwise(found))


def test_a_lower_priority_waits_longer_from_the_first_failure_on() -> None:
    firsts = [SCHEDULES[priority].waits_s[0] for priority in Priority]
    assert firsts == sorted(set(firsts))


def test_a_message_older_than_a_day_still_gets_its_six_attempts() -> None:
    """The daemon was off for three days while the message waited."""
    plan = next_attempt(Priority.LOW, 5, 0, 72 * HOUR_MS, after_s=None, jitter=0.0)
    assert plan.wait_ms is not None
    last = next_attempt(Priority.LOW, 6, 0, 72 * HOUR_MS, after_s=None, jitter=0.0)
    assert last.wait_ms is None
    assert "6 attempts in 72 h" in last.reason


def test_the_longer_of_the_receivers_wish_and_the_own_wait_counts() -> None:
    assert next_attempt(Priority.CRITICAL, 1, 0, 0, after_s=60, jitter=0.0).wait_ms == 60_000
    assert next_attempt(Priority.CRITICAL, 5, 0, 0, after_s=60, jitter=0.0).wait_ms == 120_000
    assert "as the receiver asked" in next_attempt(Priority.CRITICAL, 1, 0, 0, after_s=60, jitter=0.0).reason


def test_a_receiver_that_asks_for_years_is_tried_again_within_about_an_hour() -> None:
    for after_s in (1e9, float("inf")):
        plan = next_attempt(Priority.CRITICAL, 1, 0, 0, after_s=after_s, jitter=0.999)
        assert plan.wait_ms is not None
        assert HOUR_MS <= plan.wait_ms <= 1.1 * HOUR_MS


@given(
    st.sampled_from(Priority),
    st.integers(1, 10_000),
    st.floats(0, 0.999999),
    st.none() | st.floats(0, 1e12),
    st.integers(-HOUR_MS, 100 * HOUR_MS),
)
def test_jitter_only_lengthens_and_no_wait_is_shorter_than_asked(
    priority: Priority, attempts: int, jitter: float, after_s: float | None, now_ms: int
) -> None:
    plan = next_attempt(priority, attempts, 0, now_ms, after_s=after_s, jitter=jitter)
    plain = next_attempt(priority, attempts, 0, now_ms, after_s=after_s, jitter=0.0)
    if plan.wait_ms is not None and plain.wait_ms is not None:
        assert plain.wait_ms <= plan.wait_ms <= plain.wait_ms * 1.1 + 1
        assert plan.wait_ms >= min(after_s or 0.0, 3600.0) * 1000 - 1
    assert plan.reason


def test_the_json_has_the_documented_field_names_and_plain_values() -> None:
    assert json.loads(message().to_json()) == {
        "format": "clutchwarden-message-1",
        "message_id": "m-0001",
        "kind": "alarm",
        "status": "actual",
        "site": "Reptile house",
        "place": "North cabinet, upper shelf",
        "priority": 1,
        "headline": "Too hot for eggs: 34.2 °C in the north cabinet",
        "body": "Open the door and switch the heater off at the wall.",
        "alarm": "temperature-lethal-high",
        "occurrence": "o-17",
        "value": 34.2,
        "limit": 33.0,
        "started_at": "2026-03-01T04:05:06.789Z",
        "sent_at": None,
        "acknowledge_url": None,
    }


TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
MESSAGES = st.builds(
    OutgoingMessage,
    message_id=TEXT,
    kind=st.sampled_from(MessageKind),
    status=st.sampled_from(MessageStatus),
    site=TEXT,
    place=TEXT,
    priority=st.sampled_from(Priority),
    headline=TEXT,
    body=TEXT,
    alarm=st.none() | st.sampled_from(AlarmKind),
    occurrence=st.none() | TEXT,
    value=st.none() | st.floats(allow_nan=False, allow_infinity=False),
    limit=st.none() | st.floats(allow_nan=False, allow_infinity=False),
    started_at=st.none() | TEXT,
)


@given(MESSAGES)
def test_a_message_survives_the_way_through_json(sent: OutgoingMessage) -> None:
    assert OutgoingMessage.from_json(sent.to_json()) == sent


def test_a_number_that_is_not_finite_becomes_null_because_json_has_no_word_for_it() -> None:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    read = json.loads(message(value=float("nan"), limit=float("inf")).to_json(), parse_constant=refuse)
    assert read["value"] is None
    assert read["limit"] is None


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("", "the whole text"),
        ("[]", "the whole text"),
        ('{"kind": "alarm"}', "message_id"),
        (message().to_json().replace('"alarm":"temp', '"alarm":"xemp'), "alarm"),
        (message().to_json().replace("message-1", "message-2"), "format"),
    ],
)
def test_a_stored_text_that_is_no_message_is_refused_by_field_name(text: str, field: str) -> None:
    with pytest.raises(ValueError, match=field) as caught:
        OutgoingMessage.from_json(text)
    assert "Reptile house" not in str(caught.value)


def test_times_are_rfc_3339_in_utc_with_milliseconds() -> None:
    assert rfc3339(NEW_YEAR_2026_MS + 7) == "2026-01-01T00:00:00.007Z"


@given(st.integers(0, 4_102_444_800_000))
def test_a_written_time_reads_back_to_the_same_millisecond(moment_ms: int) -> None:
    read = datetime.fromisoformat(rfc3339(moment_ms))
    assert read.tzinfo == UTC
    assert round(read.timestamp() * 1000) == moment_ms


@pytest.mark.parametrize("status", [MessageStatus.TEST, MessageStatus.DEMO])
def test_what_is_not_actual_says_so_in_its_first_word_exactly_once(status: MessageStatus) -> None:
    once = as_sent(message(status=status, headline="Too hot"), 0)
    assert once.headline == f"{status.value.upper()}: Too hot"
    assert as_sent(once, 0).headline == once.headline


def test_an_actual_message_leaves_with_its_time_and_its_id_and_nothing_else_changed() -> None:
    assert as_sent(message(), NEW_YEAR_2026_MS) == message(sent_at="2026-01-01T00:00:00.000Z")


@pytest.mark.parametrize("jitter", [0.0, 0.999])
def test_a_critical_call_that_was_refused_goes_on_every_half_hour_and_says_so(jitter: float) -> None:
    plan = after_refusal(GiveUp("no"), Priority.CRITICAL, MessageKind.ALARM, jitter=jitter)
    assert plan.wait_ms == round(1_800_000 * (1 + 0.1 * jitter))
    assert "not given up" in plan.reason


@pytest.mark.parametrize("kind", [*MessageKind, None])
@pytest.mark.parametrize("priority", Priority)
def test_what_nobody_could_receive_ends_whatever_it_is(priority: Priority, kind: MessageKind | None) -> None:
    assert after_refusal(Undeliverable("no such contact"), priority, kind, jitter=0.0).wait_ms is None


@pytest.mark.parametrize("result", [GiveUp("no"), Gone("gone")])
def test_only_critical_calls_survive_a_refusal(result: GiveUp) -> None:
    going_on = {
        (priority, kind)
        for priority in Priority
        for kind in (*MessageKind, None)
        if after_refusal(result, priority, kind, jitter=0.0).wait_ms is not None
    }
    assert going_on == {(Priority.CRITICAL, MessageKind.ALARM), (Priority.CRITICAL, MessageKind.REMINDER)}
