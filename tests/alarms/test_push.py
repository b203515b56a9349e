"""Push through the real apprise library: its `json://` scheme against a real HTTP receiver."""

import logging
import subprocess
import sys
import time

import pytest
from pydantic import SecretStr

from daemon.alarms.delivery import Delivered, GiveUp, MessageKind, SendResult, TryAgain
from daemon.alarms.push import PushChannel
from tests.alarms.messages import message
from tests.support.processes import free_port
from tests.support.receiver import Answer, Manner, Receiver
from tests.support.secrets import assert_no_secret, secrets_of

# One of the libraries that a plug-in of apprise loads still imports a module that Python is to drop.
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")

SECRET_PATH = "/T0pS3cret/x9Yz-42"
USER = "keeper-login:pa55phrase"


def channel(url: str, timeout_s: float = 10.0, attempt_s: float | None = None) -> PushChannel:
    return PushChannel(SecretStr(url), timeout_s, attempt_s)


def send(receiver: Receiver, *, timeout_s: float = 10.0, attempt_s: float | None = None) -> SendResult:
    return channel(receiver.url(scheme="json"), timeout_s, attempt_s).send(message())


def test_the_headline_is_the_title_and_the_body_stays_plain_text(receiver: Receiver) -> None:
    text = "Open the *door* & look:\n<1 °C left> of _margin_."
    assert channel(receiver.url(scheme="json")).send(message(body=text)) == Delivered()
    (request,) = receiver.received
    assert request.json()["title"] == message().headline
    assert request.json()["message"] == text


def test_a_service_that_wants_html_gets_the_text_escaped_so_that_nothing_vanishes_as_a_tag(receiver: Receiver) -> None:
    assert channel(receiver.url("/?format=html", "json")).send(message(body="<1 °C left>")) == Delivered()
    assert "&lt;1" in receiver.received[0].json()["message"]


@pytest.mark.parametrize(
    ("kind", "kind_of_notification"),
    [
        (MessageKind.ALARM, "failure"),
        (MessageKind.REMINDER, "warning"),
        (MessageKind.CLEARED, "success"),
        (MessageKind.TEST, "info"),
    ],
)
def test_each_kind_has_its_kind_of_notification(
    receiver: Receiver, kind: MessageKind, kind_of_notification: str
) -> None:
    channel(receiver.url(scheme="json")).send(message(kind=kind))
    assert receiver.received[0].json()["type"] == kind_of_notification


def test_one_channel_sends_message_after_message(receiver: Receiver) -> None:
    push = channel(receiver.url(scheme="json"))
    assert [push.send(message(headline=name)) for name in ("first", "second")] == [Delivered(), Delivered()]
    assert [request.json()["title"] for request in receiver.received] == ["first", "second"]


@pytest.mark.parametrize("status", [400, 401, 404, 429, 500, 503])
def test_a_refusal_is_tried_again_and_tells_the_status(receiver: Receiver, status: int) -> None:
    receiver.answer_with(Answer(status))
    result = send(receiver)
    assert isinstance(result, TryAgain)
    assert str(status) in result.error


def test_a_service_that_hangs_costs_no_more_than_the_time_out(receiver: Receiver) -> None:
    receiver.answer_with(Answer(manner=Manner.HANG))
    started = time.monotonic()
    assert isinstance(send(receiver, timeout_s=0.2), TryAgain)
    assert time.monotonic() - started < 8


def test_a_service_that_answers_byte_by_byte_does_not_hold_the_attempt_for_ever(receiver: Receiver) -> None:
    receiver.answer_with(Answer(manner=Manner.DRIP_HEADERS))
    started = time.monotonic()
    result = send(receiver, timeout_s=5, attempt_s=1)
    assert time.monotonic() - started < 8
    assert isinstance(result, TryAgain)
    assert "held the attempt too long" in result.error


def test_a_time_out_in_the_url_is_the_keepers_choice_and_counts(receiver: Receiver) -> None:
    receiver.answer_with(Answer(manner=Manner.HANG))
    started = time.monotonic()
    assert isinstance(channel(receiver.url("/?rto=0.2", "json"), timeout_s=30).send(message()), TryAgain)
    assert time.monotonic() - started < 8


def test_nobody_listening_is_tried_again() -> None:
    assert isinstance(channel(f"json://127.0.0.1:{free_port()}/").send(message()), TryAgain)


@pytest.mark.parametrize("url", ["", "nonsense", "nosuchscheme://T0pS3cret/x9Yz-42", "mailto://", "tgram://T0pS3cret/"])
def test_an_address_that_apprise_does_not_understand_is_given_up_in_words(
    url: str, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    result = channel(url).send(message())
    assert isinstance(result, GiveUp)
    assert "url" in result.error
    assert_no_secret([repr(result), caplog.text], ["T0pS3cret", "x9Yz-42", "nosuchscheme"])


@pytest.mark.parametrize(
    "answer",
    [Answer(200), Answer(401), Answer(503), Answer(manner=Manner.CLOSE_EARLY), Answer(manner=Manner.DRIP_HEADERS)],
)
def test_no_part_of_the_address_is_in_the_log_the_result_or_the_repr(
    receiver: Receiver, answer: Answer, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    receiver.answer_with(answer)
    url = receiver.url(SECRET_PATH, "json", USER)
    push = channel(url, 0.3, 3)
    result = push.send(message())
    request = receiver.wait_for(1)[0]
    assert request.path == SECRET_PATH
    assert "authorization" in request.headers
    assert_no_secret([repr(result), repr(push), str(vars(push)), caplog.text], secrets_of(url))


def test_the_libraries_log_as_before_when_no_alert_is_sent(
    receiver: Receiver, caplog: pytest.LogCaptureFixture
) -> None:
    send(receiver)
    caplog.set_level(logging.DEBUG)
    logging.getLogger("apprise").warning("from elsewhere")
    assert "from elsewhere" in caplog.text


def test_apprise_is_loaded_with_the_first_message_and_not_before() -> None:
    """In a process of its own, because other tests load the library into this one."""
    program = (
        "import sys; from pydantic import SecretStr; from daemon.alarms.push import PushChannel;"
        "PushChannel(SecretStr('json://127.0.0.1/'), 10); sys.exit('apprise' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False, timeout=60).returncode == 0
