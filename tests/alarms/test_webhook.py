"""The webhook against a real HTTP receiver."""

import logging
import time

import pytest
from pydantic import SecretStr

from daemon.alarms.delivery import Delivered, GiveUp, MessageStatus, OutgoingMessage, SendResult, TryAgain, as_sent
from daemon.alarms.webhook import WebhookChannel
from tests.alarms.attempts import PATIENCE_S
from tests.alarms.messages import message
from tests.support.processes import free_port
from tests.support.receiver import Answer, Manner, Receiver
from tests.support.secrets import assert_no_secret, secrets_of

SECRET_PATH = "/hooks/T0pS3cret/x9Yz-42?token=qu3ryT0ken"
USER = "keeper-login:pa55phrase"


def channel(url: str, timeout_s: float = 10.0, attempt_s: float | None = None) -> WebhookChannel:
    return WebhookChannel(SecretStr(url), timeout_s, attempt_s=attempt_s)


def send(receiver: Receiver, timeout_s: float = 10.0, attempt_s: float | None = None) -> SendResult:
    return channel(receiver.url(), timeout_s, attempt_s).send(message())


@pytest.mark.parametrize(
    ("status", "kind"),
    [
        (200, Delivered),
        (201, Delivered),
        (204, Delivered),
        (301, GiveUp),
        (304, GiveUp),
        (400, GiveUp),
        (404, TryAgain),
        (408, TryAgain),
        (409, TryAgain),
        (410, GiveUp),
        (429, TryAgain),
        (500, TryAgain),
        (501, GiveUp),
        (503, TryAgain),
        (505, GiveUp),
    ],
)
def test_each_status_leads_to_its_result(receiver: Receiver, status: int, kind: type[SendResult]) -> None:
    receiver.answer_with(Answer(status))
    result = send(receiver)
    assert isinstance(result, kind)
    assert isinstance(result, Delivered) or str(status) in result.error
    assert len(receiver.received) == 1


def test_the_receiver_gets_the_documented_json_with_the_message_id_in_a_header(receiver: Receiver) -> None:
    sent = as_sent(message(status=MessageStatus.TEST), 0)
    assert channel(receiver.url("/alerts")).send(sent) == Delivered()
    (request,) = receiver.received
    assert (request.method, request.path) == ("POST", "/alerts")
    assert request.headers["content-type"] == "application/json"
    assert request.headers["clutchwarden-message-id"] == "m-0001"
    assert OutgoingMessage.from_json(request.body.decode()) == sent
    assert request.json()["headline"].startswith("TEST: ")


def test_user_and_password_of_the_url_are_sent_as_basic_authentication(receiver: Receiver) -> None:
    """The example of RFC 7617, section 2: Aladdin and `open sesame`."""
    channel(receiver.url(user="Aladdin:open%20sesame")).send(message())
    assert receiver.received[0].headers["authorization"] == "Basic QWxhZGRpbjpvcGVuIHNlc2FtZQ=="


def test_a_redirect_is_not_followed(receiver: Receiver) -> None:
    with Receiver() as elsewhere:
        receiver.answer_with(Answer(307, {"Location": elsewhere.url()}))
        result = send(receiver)
        assert elsewhere.received == ()
    assert isinstance(result, GiveUp)


@pytest.mark.parametrize("status", [408, 409, 429, 503])
def test_the_wait_that_the_receiver_asks_for_is_passed_on(receiver: Receiver, status: int) -> None:
    receiver.answer_with(Answer(status, {"Retry-After": "77"}))
    result = send(receiver)
    assert isinstance(result, TryAgain)
    assert result.after_s == 77


def test_a_retry_after_date_is_passed_on_as_seconds(receiver: Receiver) -> None:
    receiver.answer_with(
        Answer(503, {"Retry-After": time.strftime("%a, %d %b %Y %T GMT", time.gmtime(time.time() + 90))})
    )
    result = send(receiver)
    assert isinstance(result, TryAgain)
    assert result.after_s == pytest.approx(90, abs=15)


def test_a_receiver_that_hangs_costs_no_more_than_the_time_out(receiver: Receiver) -> None:
    receiver.answer_with(Answer(manner=Manner.HANG))
    started = time.monotonic()
    result = send(receiver, *PATIENCE_S[Manner.HANG])
    assert time.monotonic() - started < 30
    assert isinstance(result, TryAgain)
    assert "did not answer in time" in result.error


def test_headers_that_come_byte_by_byte_do_not_hold_the_attempt_for_ever(receiver: Receiver) -> None:
    """Each byte comes within the read time-out, so only the limit on the whole attempt ends this."""
    receiver.answer_with(Answer(manner=Manner.DRIP_HEADERS))
    started = time.monotonic()
    result = send(receiver, *PATIENCE_S[Manner.DRIP_HEADERS])
    assert time.monotonic() - started < 30
    assert isinstance(result, TryAgain)
    assert "held the connection too long" in result.error


def test_the_whole_attempt_may_take_twice_the_time_out_unless_it_is_said() -> None:
    assert [channel("http://alerts.invalid/", 7, said)._calls._limit_s for said in (None, 9)] == [14, 9]


@pytest.mark.parametrize("manner", [Manner.DRIP_BODY, Manner.CUT_BODY])
def test_a_body_without_end_or_cut_short_does_not_undo_an_accepted_message(receiver: Receiver, manner: Manner) -> None:
    receiver.answer_with(Answer(202, manner=manner))
    started = time.monotonic()
    assert send(receiver, timeout_s=30) == Delivered()
    assert time.monotonic() - started < 25


def test_a_connection_closed_without_an_answer_is_tried_again(receiver: Receiver) -> None:
    receiver.answer_with(Answer(manner=Manner.CLOSE_EARLY))
    result = send(receiver)
    assert isinstance(result, TryAgain)
    assert "broke" in result.error


def test_nobody_listening_is_tried_again() -> None:
    result = channel(f"http://127.0.0.1:{free_port()}/").send(message())
    assert isinstance(result, TryAgain)
    assert "refused" in result.error


def test_a_name_that_cannot_be_looked_up_is_tried_again() -> None:
    """RFC 6761 keeps the names below `.invalid` for ever without an address."""
    result = channel("http://alerts.invalid/").send(message())
    assert isinstance(result, TryAgain)
    assert "looked up" in result.error


def test_a_receiver_without_tls_is_no_safe_connection_and_is_tried_again(receiver: Receiver) -> None:
    result = channel(receiver.url(scheme="https")).send(message())
    assert isinstance(result, TryAgain)
    assert receiver.received == ()


@pytest.mark.parametrize("url", ["", "alerts.example", "mailto:keeper@site.example", "http://", "http://[::1/hook"])
def test_an_address_that_is_none_is_given_up_in_words(url: str) -> None:
    result = channel(url).send(message())
    assert isinstance(result, GiveUp)
    assert "https://" in result.error


@pytest.mark.parametrize(
    "answer",
    [
        Answer(200),
        Answer(301, {"Location": "/elsewhere"}),
        Answer(401),
        Answer(503),
        Answer(manner=Manner.HANG),
        Answer(manner=Manner.CLOSE_EARLY),
        Answer(manner=Manner.DRIP_HEADERS),
    ],
)
def test_no_part_of_the_address_is_in_the_log_the_result_or_the_repr(
    receiver: Receiver, answer: Answer, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    receiver.answer_with(answer)
    url = receiver.url(SECRET_PATH, user=USER)
    hook = channel(url, *PATIENCE_S.get(answer.manner, (10.0, None)))
    result = hook.send(message())
    assert receiver.wait_for(1)[0].path == SECRET_PATH
    assert_no_secret([repr(result), repr(hook), str(vars(hook)), caplog.text], secrets_of(url))


@pytest.mark.parametrize(
    "template", ["http://127.0.0.1:{port}", "https://alerts.invalid", "http://[::1", "nonsense:", "http://127.0.0.1:x"]
)
def test_an_address_that_fails_is_not_in_the_log_the_result_or_the_repr(
    template: str, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    url = template.format(port=free_port()) + SECRET_PATH
    hook = channel(url)
    result = hook.send(message())
    assert not isinstance(result, Delivered)
    assert_no_secret(
        [repr(result), repr(hook), str(vars(hook)), caplog.text], (url, *secrets_of("http://host" + SECRET_PATH))
    )
