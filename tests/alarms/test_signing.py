"""Signed webhooks against Standard Webhooks 1.0.0 (X-30): its published vector, a receiver written from its text."""

import base64
import secrets

import pytest
from pydantic import SecretBytes, SecretStr

from config.errors import StatedError
from config.signing_key import read_signing_key
from daemon.alarms.delivery import Delivered, TryAgain
from daemon.alarms.signing import signature_headers
from daemon.alarms.webhook import WebhookChannel
from tests.alarms.messages import message
from tests.support.receiver import Answer, Received, Receiver
from tests.support.standard_webhooks import RefusedError, Verifier

# libraries/go/webhook_test.go, TestWebhookSign, of github.com/standard-webhooks/standard-webhooks.
VECTOR_KEY = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
VECTOR_ID, VECTOR_S, VECTOR_BODY = "msg_p5jXN8AQM9LWM0D4loKWxJek", 1_614_265_330, b'{"test": 2432232314}'
VECTOR_SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="

NOW_S = 1_767_225_600.0
OLD, NEW, OTHER = (f"whsec_{base64.b64encode(bytes([n]) * 32).decode()}" for n in (1, 2, 3))


def posted(*keys: str, now_s: float = NOW_S, attempts: int = 1) -> list[Received]:
    """What a real receiver gets in so many attempts for one message, a minute apart, all but the last refused."""
    clock = [now_s]
    with Receiver() as receiver:
        receiver.answer_with(*[Answer(500)] * (attempts - 1), Answer(200))
        url = SecretStr(receiver.url("/hook"))
        channel = WebhookChannel(url, 10.0, lambda: clock[0], [read_signing_key(key) for key in keys])
        for number in range(1, attempts + 1):
            assert isinstance(channel.send(message()), Delivered if number == attempts else TryAgain)
            clock[0] += 60
        return list(receiver.received)


def test_the_published_vector_gives_the_published_signature() -> None:
    headers = signature_headers([read_signing_key(VECTOR_KEY)], VECTOR_ID, VECTOR_S, VECTOR_BODY)
    assert headers == {
        "webhook-id": VECTOR_ID,
        "webhook-timestamp": "1614265330",
        "webhook-signature": VECTOR_SIGNATURE,
    }


def test_the_receiver_of_these_tests_takes_the_published_vector_and_no_other_signature() -> None:
    headers = {
        "webhook-id": VECTOR_ID,
        "webhook-timestamp": str(VECTOR_S),
        "webhook-signature": "v1,Ceo5qEr07ixe2NLpvHk3FH9bwy/WavXrAFQ/9tdO6mc= " + VECTOR_SIGNATURE,
    }
    Verifier(VECTOR_KEY).take(headers, VECTOR_BODY, VECTOR_S)
    with pytest.raises(RefusedError, match="signature"):
        Verifier(VECTOR_KEY).take(headers, VECTOR_BODY[:-1] + b" ", VECTOR_S)


def test_a_receiver_takes_what_was_posted() -> None:
    [request] = posted(NEW)
    assert request.headers["webhook-id"] == message().message_id
    Verifier(NEW).take(request.headers, request.body, NOW_S)


@pytest.mark.parametrize("part", ["body", "webhook-id", "webhook-timestamp", "webhook-signature"])
def test_one_changed_character_anywhere_is_refused(part: str) -> None:
    [request] = posted(NEW)
    body, headers = request.body, dict(request.headers)
    if part == "body":
        body = body.replace(b"34.2", b"24.2")
        assert body != request.body
    else:
        place = 10 if part == "webhook-signature" else -1
        changed = list(headers[part])
        changed[place] = "1" if changed[place] != "1" else "2"
        headers[part] = "".join(changed)
    with pytest.raises(RefusedError, match="signature"):
        Verifier(NEW).take(headers, body, NOW_S)


def test_a_key_that_the_receiver_does_not_have_is_refused() -> None:
    [request] = posted(OTHER)
    with pytest.raises(RefusedError, match="signature"):
        Verifier(NEW).take(request.headers, request.body, NOW_S)


def test_while_the_key_changes_a_receiver_with_the_old_and_one_with_the_new_key_both_take_it() -> None:
    [request] = posted(NEW, OLD)
    assert len(request.headers["webhook-signature"].split(" ")) == 2
    for key in (OLD, NEW):
        Verifier(key).take(request.headers, request.body, NOW_S)
    with pytest.raises(RefusedError, match="signature"):
        Verifier(OTHER).take(request.headers, request.body, NOW_S)


@pytest.mark.parametrize("late_s", [301, -301])
def test_a_request_sent_again_by_somebody_else_later_is_refused_for_its_time(late_s: int) -> None:
    [request] = posted(NEW)
    with pytest.raises(RefusedError, match="time"):
        Verifier(NEW).take(request.headers, request.body, NOW_S + late_s)


def test_a_request_sent_again_within_the_five_minutes_is_refused_for_its_id() -> None:
    [request] = posted(NEW)
    receiver = Verifier(NEW)
    receiver.take(request.headers, request.body, NOW_S)
    with pytest.raises(RefusedError, match="had before"):
        receiver.take(request.headers, request.body, NOW_S + 299)


def test_a_later_attempt_has_the_same_id_and_a_time_of_its_own() -> None:
    """So an alert that waited for an hour is not refused as old, and not taken twice."""
    first, second = posted(NEW, attempts=2)
    assert first.headers["webhook-id"] == second.headers["webhook-id"]
    assert int(second.headers["webhook-timestamp"]) > int(first.headers["webhook-timestamp"])
    Verifier(NEW).take(second.headers, second.body, int(second.headers["webhook-timestamp"]))


def test_without_a_key_nothing_claims_to_be_signed() -> None:
    [request] = posted()
    assert [name for name in request.headers if name.startswith("webhook-")] == []


@pytest.mark.parametrize("length", [24, 32, 64])
def test_a_key_of_24_to_64_bytes_is_read_with_and_without_its_prefix(length: int) -> None:
    key = secrets.token_bytes(length)
    text = base64.b64encode(key).decode()
    assert read_signing_key(f"whsec_{text}\n") == read_signing_key(text) == SecretBytes(key)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("whsec_" + base64.b64encode(bytes(23)).decode(), "this one has 23"),
        ("whsec_" + base64.b64encode(bytes(65)).decode(), "this one has 65"),
        ("whsec_correct horse battery", "not base64"),
        ("whsec_", "this one has 0"),
        ("ключ", "not base64"),
    ],
)
def test_what_is_no_key_is_refused_in_words_that_do_not_repeat_it(text: str, said: str) -> None:
    with pytest.raises(StatedError, match=said) as caught:
        read_signing_key(text)
    assert "correct horse" not in f"{caught.value} {caught.value.hint}"
    assert "openssl rand" in caught.value.hint
