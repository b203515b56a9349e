"""Sends a message through apprise: phone push, e-mail, SMS. The library is loaded with the first message, not before.

Apprise says only whether a service took the message. So every refusal is tried again; the HTTP status that it writes
to its log is all that can be told about the cause.
"""

from typing import Any

from pydantic import SecretStr

from daemon.alarms.bounded import BoundedCalls, OverdueError
from daemon.alarms.delivery import Delivered, GiveUp, MessageKind, OutgoingMessage, SendResult, TryAgain
from daemon.alarms.redaction import Heard, libraries_held_back

_TYPES = {
    MessageKind.ALARM: "failure",
    MessageKind.REMINDER: "warning",
    MessageKind.CLEARED: "success",
    MessageKind.TEST: "info",
    MessageKind.DIGEST: "info",
}
LONGEST_PAUSE_S = 0.5
"""Between two messages to one service. One that is sent too many refuses, and is tried again."""
_LOGIN = "; check the user name and password in the contact's url"
_MAIL_HINTS = {530: _LOGIN, 534: _LOGIN, 535: _LOGIN, 550: "; check the address of the recipient"}
"""RFC 4954, section 6, and RFC 5321, section 4.2.3."""


class PushChannel:
    """A contact of the kind `apprise`.

    `timeout_s` is the wait for connecting and for each answer, unless the url sets its own (`cto`, `rto`); an attempt
    as a whole ends after `attempt_s`, for a service may need several requests for one message.
    """

    def __init__(self, url: SecretStr, timeout_s: float, attempt_s: float | None = None) -> None:
        self._url = url
        self._timeout_s = timeout_s
        self._service: Any = None
        self._calls: BoundedCalls[SendResult] = BoundedCalls("push-attempt", attempt_s or 4 * timeout_s)

    def __repr__(self) -> str:
        return "PushChannel(address hidden)"

    def send(self, message: OutgoingMessage) -> SendResult:
        """Make one attempt; returns within the time for the attempt as a whole."""
        try:
            return self._calls.run(lambda: self._notify(message))
        except OverdueError as overdue:
            return TryAgain(f"the push service held the attempt too long: {overdue}")

    def _notify(self, message: OutgoingMessage) -> SendResult:
        with libraries_held_back() as heard:
            service = self._service or self._load()
            if service is None:
                return GiveUp("the contact's url is not an address that apprise understands; check its form")
            self._service = service
            accepted = service.notify(
                title=message.headline, body=message.body, notify_type=_TYPES[message.kind], body_format="text"
            )
        return Delivered() if accepted else TryAgain(_refusal(heard))

    def is_understood(self) -> bool:
        """True where the library knows what kind of address this is. Nothing is sent."""
        with libraries_held_back():
            return self._load() is not None

    def _load(self) -> Any | None:
        """Make an apprise object with the one service of the url, or None where the url is not understood."""
        import apprise

        url = self._url.get_secret_value()
        # In memory: apprise would otherwise keep files of its own in the home folder.
        asset = apprise.AppriseAsset(async_mode=False, storage_mode="memory")
        service = apprise.Apprise.instantiate(url, asset=asset, suppress_exceptions=True)
        if service is None:
            return None
        for key, attribute in (("cto=", "socket_connect_timeout"), ("rto=", "socket_read_timeout")):
            if key not in url:
                setattr(service, attribute, self._timeout_s)
        # The library pauses up to 5.5 s between two messages; the second may be the one that matters.
        service.request_rate_per_sec = min(service.request_rate_per_sec, LONGEST_PAUSE_S)
        sender = apprise.Apprise(asset=asset)
        return sender if sender.add(service) else None


def _refusal(heard: Heard) -> str:
    if heard.mail_code is not None:
        hint = _MAIL_HINTS.get(heard.mail_code, "")
        return f"the mail server answered {heard.mail_code} and did not take the message{hint}"
    if heard.status is None:
        return "the push service did not take the message; is the network up, and is the contact's url right?"
    return f"the push service answered {heard.status} and did not take the message"
