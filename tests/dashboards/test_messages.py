"""The page of what became of the messages of the probes."""

from dataclasses import replace

import pytest

from daemon.overview import Messages
from daemon.storage.errors import JournalError
from dashboards.app import create_app
from dashboards.inbox import Inbox
from dashboards.messages import NEWEST_SHOWN
from sensors.reading import Outcome
from tests.dashboards import samples
from tests.dashboards.asking import ask, pages


def test_counts_come_in_the_order_of_the_outcomes_and_a_rejected_message_with_its_reason() -> None:
    page = ask(pages(samples.overview(), messages=samples.messages()), "/messages").text
    plain = page.replace("\N{NARROW NO-BREAK SPACE}", " ").replace("\N{NO-BREAK SPACE}", " ")
    stored, unknown = '<th scope="row">stored</th><td>12 345', '<th scope="row">rejected: unknown channel</th><td>2'
    assert 0 < plain.index(stored) < plain.index(unknown)
    assert "the probe has no channel &#39;x&#39;" in plain
    assert "<code>clutchwarden/north-air/x</code>" in plain
    assert "<code>{&#34;t&#34;: 85.0}</code>" in plain
    assert "3 Jun, 14:02:00" in plain


def test_a_journal_without_messages_says_so() -> None:
    page = ask(pages(samples.overview(), messages=Messages("UTC", {}, ())), "/messages").text
    assert "No message has arrived yet." in page
    assert "Rejected" not in page


@pytest.mark.parametrize(
    ("payload", "shown"),
    [
        (b"<script>alert(1)</script>", "<code>&lt;script&gt;alert(1)&lt;/script&gt;</code>"),
        (b"two\nlines", "<code>two\\nlines</code>"),
        (b"\xff\x00", "<code>\\xff\\x00</code>"),
        ("\u202eturned".encode(), "<code>\\u202eturned</code>"),
        ("Überlauf".encode(), "<code>Überlauf</code>"),
        (b"", "<code>(empty)</code>"),
        (b"x" * 300, f"<code>{'x' * 300}</code>"),
        (b"x" * 301, f"<code>{'x' * 300} …</code>"),
    ],
)
def test_a_payload_is_shown_as_text_whatever_it_holds(payload: bytes, shown: str) -> None:
    app = pages(samples.overview(), messages=samples.messages(samples.kept_message(payload, "<b>topic</b>")))
    page = ask(app, "/messages").text
    assert shown in page
    assert "<b>topic" not in page


def test_the_same_is_there_as_json() -> None:
    answer = ask(pages(samples.overview(), messages=samples.messages()), "/api/messages").json()
    assert answer["counts"] == {"stored": 12_345, "rejected: unknown channel": 2}
    assert answer["rejected"] == [
        {
            "received_at_ms": samples.NOW_MS,
            "topic": "clutchwarden/north-air/x",
            "retained": False,
            "outcome": "rejected: unknown channel",
            "reason": "the probe has no channel 'x'",
            "payload_start": '{"t": 85.0}',
        }
    ]


def test_a_full_page_stays_below_100_kb() -> None:
    long = samples.kept_message(b'{"time":"2026-06-03T12:02:00Z","temperature":28.4},' * 80, "hatchery/" * 100)
    full = replace(
        samples.messages(*[replace(long, reason="why " * 250)] * NEWEST_SHOWN), counts=dict.fromkeys(Outcome, 9)
    )
    answer = ask(pages(samples.overview(), messages=full), "/messages")
    assert answer.text.count("<li>") == 50
    assert len(answer.content) < 100_000


def test_only_the_newest_are_asked_for() -> None:
    limits: list[int] = []

    def asked(limit: int) -> Messages:
        limits.append(limit)
        return samples.messages()

    app = create_app(samples.overview, None, asked)
    ask(app, "/messages")
    ask(app, "/api/messages")
    assert limits == [50, 50]


def test_the_page_is_linked_and_there_only_where_messages_are_given() -> None:
    without, with_messages = pages(samples.overview(), Inbox()), pages(samples.overview(), messages=samples.messages())
    assert ask(without, "/messages").status_code == 404
    assert ask(without, "/api/messages").status_code == 404
    assert "/messages" not in ask(without, "/").text
    assert '<a id="to-messages" href="/messages">' in ask(with_messages, "/").text


def test_a_journal_that_cannot_be_read_is_told_as_on_the_other_pages(caplog: pytest.LogCaptureFixture) -> None:
    def broken(_limit: int) -> Messages:
        raise JournalError("cannot read the journal", "journal.sqlite3", "the file is damaged", "Use a backup.")

    app = create_app(samples.overview, None, broken)
    page = ask(app, "/messages")
    assert (page.status_code, ask(app, "/").status_code) == (503, 200)
    assert "default-src 'self'" in page.headers["content-security-policy"]
    assert "the file is damaged" in caplog.text
    assert "Traceback" not in caplog.text
