"""One HTTP request to an address of the keeper's, with an end in any case and no word of the address in any text."""

from dataclasses import dataclass
from typing import Literal

import requests
from pydantic import SecretStr
from requests.exceptions import ConnectTimeout, ReadTimeout, RequestException, SSLError

from daemon.alarms.bounded import BoundedCalls, OverdueError
from daemon.alarms.redaction import libraries_held_back

Method = Literal["GET", "POST"]

_CAUSES: tuple[tuple[type[Exception], str], ...] = (
    (ConnectTimeout, "it could not be reached in time"),
    (ReadTimeout, "it took the connection but did not answer in time"),
    (SSLError, "no safe connection: its TLS certificate was not accepted"),
    (requests.ConnectionError, "no connection: refused, no way to it, or its name is not known"),
    (RequestException, "the connection broke before there was an answer"),
)


@dataclass(frozen=True, slots=True)
class Answered:
    """A status code, and as much of the body as was asked for."""

    status: int
    body: bytes


@dataclass(frozen=True, slots=True)
class NotAnswered:
    """No answer in time; `reason` is a sentence without the address."""

    reason: str


class HttpCall:
    """Asks one address, again and again, from one thread. `timeout_s` is for connecting and again for an answer."""

    def __init__(self, url: SecretStr, timeout_s: float, name: str, largest_bytes: int = 0) -> None:
        self._url = url
        self._timeout_s = timeout_s
        self._largest_bytes = largest_bytes
        self._calls: BoundedCalls[Answered | NotAnswered] = BoundedCalls(name, 2 * timeout_s)

    def __repr__(self) -> str:
        return "HttpCall(address hidden)"

    def make(self, method: Method, content: bytes | None = None) -> Answered | NotAnswered:
        """Make one request; returns after at most twice the time-out, also where a server sends byte by byte."""
        try:
            return self._calls.run(lambda: self._ask(method, content))
        except OverdueError as overdue:
            return NotAnswered(f"it held the connection too long: {overdue}")

    def _ask(self, method: Method, content: bytes | None) -> Answered | NotAnswered:
        headers = {"User-Agent": "clutchwarden", "Connection": "close"}
        if content is not None:
            headers["Content-Type"] = "application/json"
        try:
            with (
                libraries_held_back(),
                requests.request(
                    method,
                    self._url.get_secret_value(),
                    data=content,
                    headers=headers,
                    timeout=(self._timeout_s, self._timeout_s),
                    allow_redirects=False,
                    stream=True,
                ) as answer,
            ):
                return Answered(answer.status_code, self._beginning_of(answer))
        except RequestException as error:
            # An exception's own text is never used: it holds the address.
            return NotAnswered(next(sentence for kind, sentence in _CAUSES if isinstance(error, kind)))

    def _beginning_of(self, answer: requests.Response) -> bytes:
        body = b""
        if not self._largest_bytes:
            return body
        for part in answer.iter_content(4096):
            body += part
            if len(body) > self._largest_bytes:
                break
        return body[: self._largest_bytes]
