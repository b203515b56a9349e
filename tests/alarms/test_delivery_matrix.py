"""The failure matrix of delivery (X-29): a courier, a journal, and a real receiver that misbehaves in every way.

What 2xx, 3xx, 410 and Retry-After mean is that of Standard Webhooks 1.0.0, deliverability; that an attempt with any
other 4xx except 404, 408, 409 and 429, and with 501 and 505, is the last is common practice of alarm delivery in cold
chains. That a critical call goes on nevertheless is our own rule.
"""

import logging
import shutil
import ssl
import subprocess
from collections.abc import Callable, Iterator
from email.utils import formatdate
from pathlib import Path

import pytest
from pydantic import SecretStr

from config.words import Priority
from daemon.alarms.courier import Courier
from daemon.alarms.delivery import MessageKind
from daemon.alarms.webhook import WebhookChannel
from daemon.storage import outbox
from daemon.storage.journal import Journal
from tests.alarms.outboxes import NOW_MS, Row, put, rows, running, wait_for_attempts, wait_for_state
from tests.conftest import require
from tests.support.journals import new_journal
from tests.support.processes import free_port
from tests.support.receiver import Answer, Manner, Receiver

FIRST_S = {Priority.CRITICAL: 5, Priority.HIGH: 15, Priority.LOW: 60}
"""Seconds to the second attempt, by priority."""
SLOWLY_S = 1_800
LONGEST_ASKED_S = 3_600


class Clock:
    """Stands still until a test moves it."""

    at_ms = NOW_MS

    def now_ms(self) -> int:
        return self.at_ms


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as started:
        yield started


Turn = Callable[[], float]


def worker(journal: Journal, clock: Clock, url: str, timeout_s: float = 10.0) -> Turn:
    """One turn of the worker of `ada/0`, without a thread and without chance."""
    channel = WebhookChannel(SecretStr(url), timeout_s, lambda: clock.at_ms / 1000)
    return Courier(journal, {"ada/0": channel}, clock.now_ms, jitter=lambda: 0.0)._workers[0]._step


def after_one(journal: Journal, clock: Clock, url: str, priority: Priority, timeout_s: float = 10.0) -> Row:
    """What the outbox says of a message after one attempt."""
    put(journal, "m", priority=priority)
    worker(journal, clock, url, timeout_s)()
    return rows(journal)["m"]


def wait_s(row: Row) -> float | None:
    """Seconds from the attempt, which took no time by the clock of the test, to the next one."""
    return None if row.next_attempt_at_ms is None else (row.next_attempt_at_ms - NOW_MS) / 1000


@pytest.mark.parametrize("priority", Priority)
@pytest.mark.parametrize("answer", [Answer(200), Answer(202), Answer(204), Answer(200, manner=Manner.DRIP_BODY)])
def test_2xx_delivers_also_with_a_body_that_never_ends(
    journal: Journal, clock: Clock, receiver: Receiver, answer: Answer, priority: Priority
) -> None:
    receiver.answer_with(answer)
    assert after_one(journal, clock, receiver.url(), priority) == ("delivered", 1, None, "")


@pytest.mark.parametrize("priority", Priority)
@pytest.mark.parametrize("status", [404, 408, 409, 429, 500, 502, 503, 504])
def test_what_may_pass_is_tried_again_by_the_schedule_of_the_priority(
    journal: Journal, clock: Clock, receiver: Receiver, status: int, priority: Priority
) -> None:
    receiver.answer_with(Answer(status))
    row = after_one(journal, clock, receiver.url(), priority)
    assert (row.state, wait_s(row)) == ("waiting", FIRST_S[priority])
    assert str(status) in row.error


@pytest.mark.parametrize("status", [408, 409, 429, 503])
@pytest.mark.parametrize(
    ("asked", "waited_s"),
    [
        ("90", 90),
        ("2", FIRST_S[Priority.HIGH]),
        (formatdate(NOW_MS / 1000 + 240, usegmt=True), 240),
        (formatdate(NOW_MS / 1000 - 240, usegmt=True), FIRST_S[Priority.HIGH]),
        ("999999999", LONGEST_ASKED_S),
        ("9" * 400, LONGEST_ASKED_S),
        (formatdate(NOW_MS / 1000 + 9 * 86_400, usegmt=True), LONGEST_ASKED_S),
        ("after lunch", FIRST_S[Priority.HIGH]),
    ],
)
def test_the_longer_of_the_schedule_and_of_what_the_receiver_asks_for_counts_up_to_an_hour(
    journal: Journal, clock: Clock, receiver: Receiver, status: int, asked: str, waited_s: int
) -> None:
    # The receiver's own Date would be the real one, while the clock of the test stands in another year.
    receiver.answer_with(Answer(status, {"Retry-After": asked, "Date": formatdate(NOW_MS / 1000, usegmt=True)}))
    receiver.send_own_date = False
    assert wait_s(after_one(journal, clock, receiver.url(), Priority.HIGH)) == waited_s


FINAL = [301, 307, 400, 401, 410, 422, 501, 505]


@pytest.mark.parametrize("priority", [Priority.HIGH, Priority.LOW])
@pytest.mark.parametrize("status", FINAL)
def test_a_final_answer_ends_a_message_of_lower_priority(
    journal: Journal, clock: Clock, receiver: Receiver, status: int, priority: Priority
) -> None:
    receiver.answer_with(Answer(status, {"Location": receiver.url("/elsewhere")}))
    row = after_one(journal, clock, receiver.url(), priority)
    assert (row.state, row.attempts, row.next_attempt_at_ms) == ("abandoned", 1, None)
    assert str(status) in row.error
    assert [request.path for request in receiver.received] == ["/"]


@pytest.mark.parametrize("kind", [MessageKind.ALARM, MessageKind.REMINDER])
@pytest.mark.parametrize("status", FINAL)
def test_a_critical_call_is_never_given_up_it_goes_on_slowly_and_is_told_of_from_the_first_refusal(
    journal: Journal, clock: Clock, receiver: Receiver, status: int, kind: MessageKind
) -> None:
    receiver.answer_with(Answer(status, {"Location": receiver.url("/elsewhere")}))
    put(journal, "m", kind=kind)
    turn = worker(journal, clock, receiver.url())
    for attempt in range(1, 9):
        turn()
        assert rows(journal)["m"][:3] == ("waiting", attempt, clock.at_ms + SLOWLY_S * 1000)
        with journal.read() as conn:
            [told] = outbox.undelivered(conn, clock.at_ms - 86_400_000)
        assert (told.contact, told.messages) == ("ada/0", 1)
        assert str(status) in told.error
        clock.at_ms += SLOWLY_S * 1000
    receiver.answer_with(Answer(200))
    turn()
    assert rows(journal)["m"].state == "delivered"
    assert {request.path for request in receiver.received} == {"/"}


def test_an_end_of_an_alarm_that_is_refused_for_good_is_given_up_even_where_the_alarm_was_critical(
    journal: Journal, clock: Clock, receiver: Receiver
) -> None:
    receiver.answer_with(Answer(401))
    put(journal, "m", kind=MessageKind.CLEARED)
    worker(journal, clock, receiver.url())()
    assert rows(journal)["m"].state == "abandoned"


def test_410_makes_the_contact_unusable_for_all_but_calls_until_one_is_accepted(
    journal: Journal, clock: Clock, receiver: Receiver, caplog: pytest.LogCaptureFixture
) -> None:
    receiver.answer_with(Answer(410))
    turn = worker(journal, clock, receiver.url())
    put(journal, "first", priority=Priority.LOW)
    turn()
    put(journal, "unsent", priority=Priority.LOW)
    turn()
    unsent = rows(journal)["unsent"]
    assert (*unsent[:2], "not sent" in unsent.error, "410" in unsent.error) == ("abandoned", 1, True, True)
    put(journal, "urgent", priority=Priority.HIGH)
    turn()
    assert rows(journal)["urgent"].state == "abandoned"
    put(journal, "critical")
    turn()
    assert rows(journal)["critical"].state == "waiting"
    assert [each.headers["clutchwarden-message-id"] for each in receiver.received] == ["first", "urgent", "critical"]
    receiver.answer_with(Answer(200))
    clock.at_ms += SLOWLY_S * 1000
    turn()
    put(journal, "again", priority=Priority.LOW)
    turn()
    assert rows(journal)["again"].state == "delivered"
    assert caplog.text.count("Contact ada/0 is unusable") == 1


def test_a_start_with_another_address_ends_what_410_began(journal: Journal, clock: Clock, receiver: Receiver) -> None:
    receiver.answer_with(Answer(410))
    put(journal, "critical")
    worker(journal, clock, receiver.url())()
    with Receiver() as moved:
        clock.at_ms += SLOWLY_S * 1000
        turn = worker(journal, clock, moved.url())
        put(journal, "low", priority=Priority.LOW)
        turn()
        turn()
        assert {name: row.state for name, row in rows(journal).items()} == {"critical": "delivered", "low": "delivered"}


@pytest.mark.parametrize("priority", Priority)
@pytest.mark.parametrize(
    ("manner", "said"),
    [
        (Manner.HANG, "did not answer in time"),
        (Manner.DRIP_HEADERS, "held the connection too long"),
        (Manner.CLOSE_EARLY, "the connection broke"),
    ],
)
def test_a_receiver_that_hangs_drips_or_hangs_up_is_tried_again_in_its_time(
    journal: Journal, clock: Clock, receiver: Receiver, manner: Manner, said: str, priority: Priority
) -> None:
    receiver.answer_with(Answer(manner=manner))
    row = after_one(journal, clock, receiver.url(), priority, 0.2)
    assert (row.state, wait_s(row)) == ("waiting", FIRST_S[priority])
    assert said in row.error


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("http://127.0.0.1:{port}/", "refused"),
        ("http://alerts.invalid/", "looked up"),  # RFC 6761: never has an address
    ],
)
def test_nobody_there_and_no_such_name_are_tried_again(journal: Journal, clock: Clock, url: str, said: str) -> None:
    row = after_one(journal, clock, url.format(port=free_port()), Priority.HIGH)
    assert (row.state, wait_s(row)) == ("waiting", FIRST_S[Priority.HIGH])
    assert said in row.error


@pytest.mark.services
def test_a_certificate_that_nobody_vouches_for_is_refused_and_tried_again(
    journal: Journal, clock: Clock, receiver: Receiver, tmp_path: Path
) -> None:
    openssl = require(shutil.which("openssl"), "openssl")
    arguments = "req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=127.0.0.1 -keyout key.pem -out cert.pem"
    names = ("-addext", "subjectAltName=IP:127.0.0.1")
    subprocess.run([openssl, *arguments.split(), *names], cwd=tmp_path, check=True, capture_output=True)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tmp_path / "cert.pem", tmp_path / "key.pem")
    receiver.secure(context)
    row = after_one(journal, clock, receiver.url(scheme="https"), Priority.HIGH)
    assert (row.state, wait_s(row)) == ("waiting", FIRST_S[Priority.HIGH])
    assert "certificate was not accepted" in row.error
    assert receiver.received == ()


MISBEHAVING = [
    *(Answer(status) for status in (301, 400, 404, 408, 409, 410, 429, 500, 501, 503, 505)),
    Answer(429, {"Retry-After": "3000"}),
    Answer(manner=Manner.HANG),
    Answer(manner=Manner.HANG),
    Answer(manner=Manner.DRIP_HEADERS),
    Answer(manner=Manner.CLOSE_EARLY),
]


def test_one_contact_gets_all_its_messages_while_every_other_one_misbehaves_in_its_own_way(
    journal: Journal, receiver: Receiver, caplog: pytest.LogCaptureFixture
) -> None:
    """The hanging ones would hold a common queue for a minute each; none of their attempts ends within this test."""
    caplog.set_level(logging.CRITICAL)
    bad = [Receiver().start() for _ in MISBEHAVING]
    try:
        channels = {"well/0": WebhookChannel(SecretStr(receiver.url()), 10.0)}
        for number, (one, answer) in enumerate(zip(bad, MISBEHAVING, strict=True)):
            one.answer_with(answer)
            channels[f"bad-{number}/0"] = WebhookChannel(SecretStr(one.url()), 60.0)
            put(journal, f"to-{number}", f"bad-{number}/0", created_at_ms=NOW_MS - 1000)
        courier = Courier(journal, channels, lambda: NOW_MS, jitter=lambda: 0.0)
        with running(courier):
            for one in bad:
                one.wait_for(1)
            for number in range(20):
                put(journal, f"well-{number}", "well/0", Priority.LOW)
            courier.wake()
            for number in range(20):
                wait_for_state(journal, f"well-{number}", "delivered")
            for number, answer in enumerate(MISBEHAVING):
                if answer.manner in {Manner.HANG, Manner.DRIP_HEADERS}:
                    assert rows(journal)[f"to-{number}"].attempts == 0
                else:
                    assert wait_for_attempts(journal, f"to-{number}", 1).state == "waiting"
            for one in bad:
                one.release()
    finally:
        for one in bad:
            one.stop()
