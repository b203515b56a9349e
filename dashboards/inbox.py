"""The alerts that this program's own webhook received: a stand-in for a keeper's phone, kept in memory only."""

import threading
from datetime import datetime
from typing import Annotated

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from config.words import Priority

KEPT_MESSAGES = 200
LARGEST_BODY_BYTES = 65_536

_Word = Annotated[str, StringConstraints(max_length=200)]


class InboxError(Exception):
    """A message that cannot be read; the text says which fields are wrong."""


class ReceivedMessage(BaseModel):
    """One alert in the JSON form that the webhook sends; fields that this page does not know are passed over."""

    model_config = ConfigDict(frozen=True, extra="ignore", strict=True, allow_inf_nan=False)

    message_id: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    kind: _Word
    status: _Word
    site: _Word
    place: _Word
    priority: Annotated[int, Field(ge=Priority.CRITICAL, le=Priority.LOW)]
    headline: Annotated[str, StringConstraints(min_length=1, max_length=400)]
    body: Annotated[str, Field(max_length=8_000)]
    alarm: _Word | None = None
    occurrence: _Word | None = None
    value: float | None = None
    limit: float | None = None
    started_at: AwareDatetime | None = None
    sent_at: AwareDatetime | None = None

    @property
    def moment(self) -> datetime | None:
        """When it was sent, else when the alarm began."""
        return self.sent_at or self.started_at


def read_message(body: bytes) -> ReceivedMessage:
    """Read a webhook body.

    Raises InboxError with the fields that are missing or wrong.
    """
    try:
        return ReceivedMessage.model_validate_json(body)
    except ValidationError as error:
        faults = [f"{'.'.join(map(str, fault['loc'])) or 'the body'}: {fault['msg']}" for fault in error.errors()]
    raise InboxError(f"This is not an alert of the webhook. {'; '.join(faults)}.")


class Inbox:
    """The newest alerts. Safe to use from several threads; times are shown in `time_zone`."""

    def __init__(self, time_zone: str = "UTC") -> None:
        self.time_zone = time_zone
        self._messages: dict[str, ReceivedMessage] = {}
        self._lock = threading.Lock()

    def receive(self, message: ReceivedMessage) -> bool:
        """Keep a message; False where one with the same `message_id` is kept already (delivery is at least once)."""
        with self._lock:
            if message.message_id in self._messages:
                return False
            self._messages[message.message_id] = message
            if len(self._messages) > KEPT_MESSAGES:
                del self._messages[next(iter(self._messages))]
            return True

    def messages(self) -> tuple[ReceivedMessage, ...]:
        """All kept messages, the newest arrival first."""
        with self._lock:
            return tuple(reversed(self._messages.values()))
