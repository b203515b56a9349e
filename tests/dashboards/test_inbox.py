"""What the inbox takes, keeps and shows."""

import json

import httpx
import pytest
from fastapi import FastAPI

from dashboards.inbox import KEPT_MESSAGES, LARGEST_BODY_BYTES, Inbox, read_message
from dashboards.inbox_view import inbox_view
from dashboards.standing import Shape, Tone
from tests.dashboards import samples
from tests.dashboards.asking import ask, pages

JSON = {"Content-Type": "application/json"}


def post(app: FastAPI, fields: object, headers: dict[str, str] | None = None) -> httpx.Response:
    return ask(app, "/inbox/messages", "POST", json.dumps(fields).encode(), headers or JSON)


def message(**changes: object) -> dict[str, object]:
    return {**samples.message_fields(), **changes}


def test_a_received_alert_is_shown_the_newest_first() -> None:
    app = pages(samples.overview(), Inbox("Europe/Berlin"))
    assert post(app, message()).json() == {"message_id": "m-1", "known": False}
    post(app, message(message_id="m-2", headline="URGENT second"))
    page = ask(app, "/inbox").text
    assert page.index("URGENT second") < page.index("URGENT North cabinet")
    assert "Since 13:50 (12 min).\nOpen the door." in page
    assert "Wed 3 Jun 2026, 14:02" in page


def test_an_all_clear_counts_as_a_message_and_the_place_is_told_once() -> None:
    fields = (message(place="the far room"), message(message_id="m-2", kind="cleared", headline="CLEARED"))
    app = pages(samples.overview(), Inbox("Europe/Berlin"))
    assert "No messages yet" in ask(app, "/inbox").text
    post(app, fields[0])
    assert "1 message<" in ask(app, "/inbox").text
    post(app, fields[1])
    page = ask(app, "/inbox").text
    assert "2 messages<" in page
    assert "the far room" not in page


def test_the_same_message_sent_twice_is_kept_once() -> None:
    inbox = Inbox()
    app = pages(samples.overview(), inbox)
    post(app, message())
    again = post(app, message())
    assert (again.status_code, again.json()["known"]) == (200, True)
    assert len(inbox.messages()) == 1


def test_only_the_newest_are_kept() -> None:
    inbox = Inbox()
    for n in range(KEPT_MESSAGES + 1):
        inbox.receive(read_message(json.dumps(message(message_id=f"m-{n}")).encode()))
    kept = inbox.messages()
    assert len(kept) == 200
    assert (kept[0].message_id, kept[-1].message_id) == ("m-200", "m-1")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"message_id": ""}, "message_id"),
        ({"headline": None}, "headline"),
        ({"priority": 4}, "priority"),
        ({"priority": "high"}, "priority"),
        ({"sent_at": "yesterday"}, "sent_at"),
        ({"sent_at": "2026-06-03T12:02:00"}, "sent_at"),
        ({"body": "x" * 9_000}, "body"),
        ({"value": float("nan")}, "value"),
    ],
)
def test_a_message_that_cannot_be_read_is_refused_with_the_name_of_the_field(
    changes: dict[str, object], field: str
) -> None:
    inbox = Inbox()
    answer = post(pages(samples.overview(), inbox), message(**changes))
    assert answer.status_code == 400
    assert f"This is not an alert of the webhook. {field}: " in answer.json()["detail"]
    assert inbox.messages() == ()


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"\xff\xfe", b"null"])
def test_a_body_that_is_no_message_is_refused(body: bytes) -> None:
    answer = ask(pages(samples.overview(), Inbox()), "/inbox/messages", "POST", body, JSON)
    assert answer.status_code == 400
    assert answer.json()["detail"].startswith("This is not an alert of the webhook.")


def test_a_body_that_is_too_large_is_refused() -> None:
    body = b" " * (LARGEST_BODY_BYTES + 1)
    assert ask(pages(samples.overview(), Inbox()), "/inbox/messages", "POST", body, JSON).status_code == 413


def test_another_page_cannot_send_a_message_through_a_visitor() -> None:
    # A form or a simple request of another origin can send text/plain, but not application/json (Fetch Standard, CORS).
    assert post(pages(samples.overview(), Inbox()), message(), {"Content-Type": "text/plain"}).status_code == 415


def test_fields_that_are_not_known_and_times_that_are_not_there_do_no_harm() -> None:
    app = pages(samples.overview(), Inbox())
    fields = message(later="addition", alarm=None, occurrence=None, value=None, limit=None)
    assert post(app, {**fields, "started_at": None, "sent_at": None}).status_code == 200
    assert "time not given" in ask(app, "/inbox").text


def test_markup_in_an_alert_is_shown_as_text() -> None:
    app = pages(samples.overview(), Inbox())
    post(app, message(headline="<b>Hot</b>", body="<script>alert(1)</script>"))
    page = ask(app, "/inbox").text
    assert "<b>Hot</b>" not in page
    assert "<script>alert" not in page


@pytest.mark.parametrize(
    ("changes", "shape", "word", "tone"),
    [
        ({}, Shape.UP, "URGENT alarm", Tone.HIGH),
        ({"kind": "reminder", "priority": 1}, Shape.UP, "Reminder: CRITICAL alarm", Tone.CRITICAL),
        ({"kind": "cleared"}, Shape.EGG, "Cleared", Tone.WELL),
        ({"kind": "test", "alarm": None}, Shape.RING, "Test", Tone.PLAIN),
        ({"alarm": "no-data", "priority": 3}, Shape.GAP, "CHECK alarm", Tone.LOW),
        ({"alarm": "not-known-here"}, Shape.FAULT, "URGENT alarm", Tone.HIGH),
        ({"kind": "notice"}, Shape.RING, "notice", Tone.HIGH),
    ],
)
def test_the_kind_of_an_alert_is_told_by_shape_and_word(
    changes: dict[str, object], shape: Shape, word: str, tone: Tone
) -> None:
    received = read_message(json.dumps(message(**changes)).encode())
    [shown] = inbox_view((received,), "UTC").messages
    assert shown.mark == (shape, word, tone)
