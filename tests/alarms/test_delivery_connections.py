"""A receiver that no connection holds to: it hangs, drips, hangs up, is not there, or has a certificate of nobody."""

import logging
import shutil
import ssl
import subprocess
from pathlib import Path

import pytest
from pydantic import SecretStr

from config.words import Priority
from daemon.alarms.courier import Courier
from daemon.alarms.webhook import WebhookChannel
from daemon.storage.journal import Journal
from tests.alarms.attempts import FIRST_S, PATIENCE_S, Clock, after_one, wait_s
from tests.alarms.outboxes import NOW_MS, put, rows, running, wait_for_attempts, wait_for_state
from tests.conftest import require
from tests.support.processes import free_port
from tests.support.receiver import Answer, Manner, Receiver


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
    row = after_one(journal, clock, receiver.url(), priority, *PATIENCE_S.get(manner, (10.0, None)))
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
