"""Posts a message as JSON to an address of the keeper's own.

The request is `POST` with `Content-Type: application/json` and the fields of `OutgoingMessage`; the header
`Clutchwarden-Message-Id` repeats `message_id`. Any 2xx answer means accepted; the answer's body is not read.
With a key the request is signed.
"""

import time
from collections.abc import Callable, Iterator, Sequence

import requests
from pydantic import SecretBytes, SecretStr
from requests.exceptions import (
    ConnectTimeout,
    InvalidHeader,
    InvalidSchema,
    InvalidURL,
    MissingSchema,
    ReadTimeout,
    RequestException,
    SSLError,
)
from urllib3.exceptions import NameResolutionError, NewConnectionError

from daemon.alarms.answers import judge_answer
from daemon.alarms.bounded import BoundedCalls, OverdueError
from daemon.alarms.delivery import GiveUp, OutgoingMessage, SendResult, TryAgain
from daemon.alarms.redaction import libraries_held_back
from daemon.alarms.signing import signature_headers

MESSAGE_ID_HEADER = "Clutchwarden-Message-Id"
_USER_AGENT = "clutchwarden"

# The first match gives the sentence. An exception's own text is never used: it holds the address.
_CAUSES: tuple[tuple[type[Exception], str], ...] = (
    (NameResolutionError, "the receiver's name could not be looked up; is the network up, and is the name right?"),
    (ConnectTimeout, "the receiver could not be reached in time"),
    (ReadTimeout, "the receiver took the connection but did not answer in time"),
    (SSLError, "no safe connection: the receiver's TLS certificate was not accepted"),
    (NewConnectionError, "the receiver refused the connection or there is no way to it"),
    (RequestException, "the connection broke before there was an answer"),
)
_UNUSABLE = (InvalidURL, InvalidSchema, MissingSchema, InvalidHeader)


class WebhookChannel:
    """A contact of the kind `webhook`.

    `timeout_s` holds for connecting, and again for the wait for an answer; an attempt as a whole ends after
    `attempt_s`, by default twice as long.
    """

    def __init__(
        self,
        url: SecretStr,
        timeout_s: float,
        utc_s: Callable[[], float] = time.time,
        keys: Sequence[SecretBytes] = (),
        attempt_s: float | None = None,
    ) -> None:
        self._url = url
        self._keys = tuple(keys)
        self._timeout_s = timeout_s
        self._utc_s = utc_s
        self._calls: BoundedCalls[SendResult] = BoundedCalls("webhook-attempt", attempt_s or 2 * timeout_s)

    def __repr__(self) -> str:
        return "WebhookChannel(address hidden)"

    def send(self, message: OutgoingMessage) -> SendResult:
        """Make one attempt; returns within the time for the attempt as a whole."""
        try:
            return self._calls.run(lambda: self._post(message))
        except OverdueError as overdue:
            return TryAgain(f"the receiver held the connection too long: {overdue}")

    def _post(self, message: OutgoingMessage) -> SendResult:
        body = message.to_json().encode()
        headers = {
            "Content-Type": "application/json",
            "User-Agent": _USER_AGENT,
            # The connection is not used again, so an unread body needs no reading to its end.
            "Connection": "close",
            MESSAGE_ID_HEADER: message.message_id,
            # By the clock of this machine, also where the messages tell another time, as in the demo.
            **signature_headers(self._keys, message.message_id, int(self._utc_s()), body),
        }
        try:
            with (
                libraries_held_back(),
                requests.post(
                    self._url.get_secret_value(),
                    data=body,
                    headers=headers,
                    timeout=(self._timeout_s, self._timeout_s),
                    allow_redirects=False,
                    # Only status and headers are read, so that an endless body cannot hold the attempt.
                    stream=True,
                ) as answer,
            ):
                found = answer.headers
                return judge_answer(answer.status_code, found.get("Retry-After"), found.get("Date"), self._utc_s())
        except _UNUSABLE:
            return GiveUp("the contact's url is not a usable web address; it starts with https:// or http://")
        except RequestException as error:
            return TryAgain(_cause(error))


def _cause(error: RequestException) -> str:
    chain = tuple(_chain(error))
    return next(sentence for kind, sentence in _CAUSES if any(isinstance(link, kind) for link in chain))


def _chain(error: BaseException) -> Iterator[BaseException]:
    """Yield the exception and what it wraps: requests puts urllib3's into `args`, which puts its own into `reason`."""
    link: object = error
    while isinstance(link, BaseException):
        yield link
        link = getattr(link, "reason", None) or (link.args[0] if link.args else None)
