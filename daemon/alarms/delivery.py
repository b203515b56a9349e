"""What is sent to a person, what may come of it, and when to try again. Pure: the time and the chance are arguments.

Delivery is at least once. A crash between the sending of a message and the record of it leads to a second sending
with the same `message_id`; a receiver that must not act twice compares that field.
"""

import dataclasses
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from functools import cache
from typing import Final, Literal, NamedTuple, Protocol

from pydantic import TypeAdapter, ValidationError

from config.words import AlarmKind, Priority

MESSAGE_FORMAT: Final = "clutchwarden-message-1"


class MessageKind(StrEnum):
    """Why a message is sent."""

    ALARM = "alarm"
    CLEARED = "cleared"
    REMINDER = "reminder"
    TEST = "test"
    DIGEST = "digest"
    """what was measured in the last day, and what is open; nobody is called by it"""


class MessageStatus(StrEnum):
    """Whether a message is about real eggs. `actual` and `test` are status words of CAP 1.2 (OASIS, 2010)."""

    ACTUAL = "actual"
    TEST = "test"
    DEMO = "demo"


@dataclass(frozen=True, slots=True, kw_only=True)
class OutgoingMessage:
    """One message to one contact. Its JSON form, with these very field names, is what a webhook receives.

    `message_id` is opaque and the same in every attempt. `place` is the name of the place for people. `value` and
    `limit` are in the canonical unit of what `alarm` watches (degree Celsius or percent) and null where there is none.
    `occurrence` tells one alarm from the next of the same kind at the same place. `started_at` and `sent_at` are
    RFC 3339 in UTC; `sent_at` is that of the attempt and null as long as the message waits. `acknowledge_url` is for
    this person and this message alone; that of a test confirms that it arrived. It is null where there is nothing to
    answer, or where no link can be made.

    A field that is added leaves `format` as it is, and a receiver passes over what it does not know.
    """

    message_id: str
    kind: MessageKind
    status: MessageStatus
    site: str
    place: str
    priority: Priority
    headline: str
    body: str
    alarm: AlarmKind | None = None
    occurrence: str | None = None
    value: float | None = None
    limit: float | None = None
    started_at: str | None = None
    sent_at: str | None = None
    acknowledge_url: str | None = None
    format: Literal["clutchwarden-message-1"] = MESSAGE_FORMAT

    def to_json(self) -> str:
        """Write the message as JSON text; a number that is not finite becomes null."""
        return _adapter().dump_json(self).decode()

    @classmethod
    def from_json(cls, text: str) -> "OutgoingMessage":
        """Read what `to_json` wrote.

        Raises ValueError with the names of the fields that cannot be read, without their content.
        """
        try:
            return _adapter().validate_json(text)
        except ValidationError as error:
            fields = sorted({".".join(map(str, part["loc"])) or "the whole text" for part in error.errors()})
        raise ValueError(f"not a message in the form {MESSAGE_FORMAT}: {', '.join(fields)} cannot be read")


@cache
def _adapter() -> TypeAdapter[OutgoingMessage]:
    return TypeAdapter(OutgoingMessage)


def rfc3339(moment_ms: int) -> str:
    """Write a moment (UTC milliseconds since the epoch) as RFC 3339 text, such as 2026-03-01T04:05:06.789Z."""
    moment = datetime.fromtimestamp(moment_ms // 1000, UTC).replace(microsecond=moment_ms % 1000 * 1000)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def as_sent(message: OutgoingMessage, now_ms: int) -> OutgoingMessage:
    """Give the message its time of sending, and TEST or DEMO as its first word where it is not actual."""
    headline = message.headline
    if message.status is not MessageStatus.ACTUAL:
        mark = f"{message.status.value.upper()}: "
        headline = headline if headline.startswith(mark) else mark + headline
    return dataclasses.replace(message, headline=headline, sent_at=rfc3339(now_ms))


@dataclass(frozen=True, slots=True)
class Delivered:
    """The receiver's server has accepted the message. Whether a person has seen it is another question."""


@dataclass(frozen=True, slots=True)
class TryAgain:
    """Not accepted, and a later attempt may succeed. `after_s` is the wait that the receiver asked for, in seconds."""

    error: str
    after_s: float | None = None


@dataclass(frozen=True, slots=True)
class GiveUp:
    """Not accepted, and another attempt would be answered in the same way until a person changes something."""

    error: str


class Gone(GiveUp):
    """The receiver says that the address is not in use any more: nothing else is to be sent there."""


class Undeliverable(GiveUp):
    """There is nothing that could be sent, or nobody to whom."""


SendResult = Delivered | TryAgain | GiveUp


class Channel(Protocol):
    """A way to one contact. It returns within a bounded time and keeps its address out of every text it makes."""

    def send(self, message: OutgoingMessage) -> SendResult:
        """Make one attempt."""


class Plan(NamedTuple):
    """What follows a failed attempt: a wait in milliseconds, or None where it was the last one; and why."""

    wait_ms: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class RetrySchedule:
    """Waits in seconds after the 1st, 2nd ... failed attempt; the last one repeats.

    Where `end_s` is given, attempts end when that many seconds have passed since the message was made, but not
    before `FEWEST_ATTEMPTS` of them.
    """

    waits_s: tuple[int, ...]
    end_s: int | None


DAY_S = 86_400
FEWEST_ATTEMPTS = 6
LONGEST_ASKED_WAIT_S = 3_600.0
LARGEST_JITTER = 0.1
REFUSED_WAIT_S = 1_800
"""A critical call that was refused for good is tried again so often: the receiver may have been mended meanwhile."""

SCHEDULES: dict[Priority, RetrySchedule] = {
    Priority.CRITICAL: RetrySchedule((5, 15, 30, 60, 120, 300), None),
    Priority.HIGH: RetrySchedule((15, 60, 300, 900, 1_800, 3_600, 7_200), DAY_S),
    Priority.LOW: RetrySchedule((60, 600, 3_600, 10_800, 14_400), DAY_S),
}


def next_attempt(
    priority: Priority, attempts: int, created_at_ms: int, now_ms: int, *, after_s: float | None, jitter: float
) -> Plan:
    """When to try again after `attempts` (at least 1) failed ones.

    The wait is the longer of the schedule's and of what the receiver asked for (`after_s`, at most an hour of it is
    honoured: a mistaken header must not silence an alarm for days). `jitter` in [0, 1) makes it up to a tenth longer,
    so that many messages do not come back in the same moment. The priority 1 schedule has no end.
    """
    schedule = SCHEDULES[priority]
    own_s = schedule.waits_s[min(attempts, len(schedule.waits_s)) - 1]
    asked_s = min(after_s or 0.0, LONGEST_ASKED_WAIT_S)
    wait_ms = round(max(own_s, asked_s) * 1000 * (1 + LARGEST_JITTER * jitter))
    waited_s = (now_ms + wait_ms - created_at_ms) / 1000
    if schedule.end_s is not None and attempts >= FEWEST_ATTEMPTS and waited_s > schedule.end_s:
        return Plan(None, f"given up after {attempts} attempts in {(now_ms - created_at_ms) / 3_600_000:.0f} h")
    asked = ", as the receiver asked" if asked_s > own_s else ""
    return Plan(wait_ms, f"attempt {attempts + 1} follows in {wait_ms / 1000:.0f} s{asked}")


def after_refusal(result: GiveUp, priority: Priority, kind: MessageKind | None, *, jitter: float) -> Plan:
    """What follows an answer that is final.

    Nobody gives up a call of priority 1: it goes on, slowly. Everything else ends here, and so does what nobody could
    ever receive. `kind` is None where the message cannot be read.
    """
    calls = kind in {MessageKind.ALARM, MessageKind.REMINDER}
    if isinstance(result, Undeliverable) or priority is not Priority.CRITICAL or not calls:
        return Plan(None, "not tried again")
    wait_ms = round(REFUSED_WAIT_S * 1000 * (1 + LARGEST_JITTER * jitter))
    return Plan(wait_ms, f"a critical call is not given up: the next attempt follows in {wait_ms / 60_000:.0f} min")
