"""The received alerts as texts and marks. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import AlarmKind, Priority
from dashboards import figures
from dashboards.alarms import alarm_word
from dashboards.inbox import ReceivedMessage
from dashboards.standing import ALARM_SHAPES, PRIORITY_TONES, Mark, Shape, Tone
from dashboards.view import version_of

_OTHER_MARKS = {
    "cleared": Mark(Shape.EGG, "Cleared", Tone.WELL),
    "test": Mark(Shape.RING, "Test", Tone.PLAIN),
    "digest": Mark(Shape.RING, "Digest", Tone.PLAIN),
}

_REMINDERS = {"CLEARED": "Over, not acknowledged", "ACKNOWLEDGED": "Somebody has it"}
"""What a reminder is about, by the first word of its headline."""


@dataclass(frozen=True, slots=True)
class MessageView:
    """One alert."""

    mark: Mark
    headline: str
    body: str
    sent: str
    sent_iso: str


@dataclass(frozen=True, slots=True)
class InboxView:
    """The whole list, the newest first."""

    messages: tuple[MessageView, ...]
    heading: str

    @property
    def version(self) -> str:
        """Differs wherever something that is shown differs."""
        return version_of(self)


def inbox_view(messages: tuple[ReceivedMessage, ...], time_zone: str) -> InboxView:
    """Turn messages into what the inbox shows."""
    zone = ZoneInfo(time_zone)
    count = len(messages)
    heading = "No messages yet" if not count else f"{count} message{'s' if count > 1 else ''}"
    return InboxView(tuple(_message(message, zone) for message in messages), heading)


def _message(message: ReceivedMessage, zone: ZoneInfo) -> MessageView:
    moment = message.moment.astimezone(zone) if message.moment else None
    return MessageView(
        mark=_mark(message),
        headline=message.headline,
        body=message.body,
        sent=figures.moment_text(moment) if moment else "time not given",
        sent_iso=moment.isoformat() if moment else "",
    )


def _mark(message: ReceivedMessage) -> Mark:
    known = _OTHER_MARKS.get(message.kind)
    if known:
        return known
    priority = Priority(message.priority)
    word = alarm_word(priority)
    if message.kind == "reminder":
        word = _REMINDERS.get(message.headline.split(" ", 1)[0].rstrip(":").upper(), f"Reminder: {word}")
    elif message.kind != "alarm":
        return Mark(Shape.RING, message.kind, PRIORITY_TONES[priority])
    try:
        shape = ALARM_SHAPES[AlarmKind(message.alarm or "")]
    except ValueError:
        shape = Shape.FAULT
    return Mark(shape, word, PRIORITY_TONES[priority])
