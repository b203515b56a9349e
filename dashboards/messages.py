"""What became of the messages of the probes, as texts and as JSON. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict

from daemon.overview import Messages
from daemon.storage.messages import KeptMessage
from dashboards import figures
from dashboards.raw_text import cut, harmless, payload_start
from dashboards.view import version_of
from sensors.reading import Outcome

NEWEST_SHOWN = 50
SHOWN_PAYLOAD_BYTES = 300
_LONGEST_SHOWN = 300


@dataclass(frozen=True, slots=True)
class RejectedView:
    """One message that could not be used."""

    received: str
    received_iso: str
    topic: str
    outcome: str
    reason: str
    payload: str


@dataclass(frozen=True, slots=True)
class MessagesView:
    """The whole page: pairs of outcome and count, and the newest rejected messages."""

    zone: str
    counts: tuple[tuple[str, str], ...]
    rejected: tuple[RejectedView, ...]

    @property
    def version(self) -> str:
        """Differs wherever something that is shown differs."""
        return version_of(self)


class RejectedJson(BaseModel):
    """One message that could not be used; `payload_start` is the first 300 bytes, with escapes for what is no text."""

    model_config = ConfigDict(frozen=True)

    received_at_ms: int
    topic: str
    retained: bool
    outcome: Outcome
    reason: str
    payload_start: str


class MessagesJson(BaseModel):
    """Messages for each outcome since the journal began, and the newest rejected ones."""

    model_config = ConfigDict(frozen=True)

    counts: dict[Outcome, int]
    rejected: list[RejectedJson]


def messages_view(messages: Messages) -> MessagesView:
    """Turn what is known of the messages into what the page shows."""
    zone = ZoneInfo(messages.time_zone)
    return MessagesView(
        zone=messages.time_zone,
        counts=tuple((outcome.value, figures.number(count, 0)) for outcome, count in _in_order(messages)),
        rejected=tuple(_rejected(message, zone) for message in messages.kept),
    )


def messages_json(messages: Messages) -> MessagesJson:
    """Give the same its JSON form."""
    rejected = [
        RejectedJson(
            received_at_ms=message.received_at_ms,
            topic=message.topic,
            retained=message.retained,
            outcome=message.outcome,
            reason=message.reason,
            payload_start=payload_start(message.payload, SHOWN_PAYLOAD_BYTES),
        )
        for message in messages.kept
    ]
    return MessagesJson(counts=dict(_in_order(messages)), rejected=rejected)


def _in_order(messages: Messages) -> list[tuple[Outcome, int]]:
    return [(outcome, messages.counts[outcome]) for outcome in Outcome if outcome in messages.counts]


def _rejected(message: KeptMessage, zone: ZoneInfo) -> RejectedView:
    received = figures.local(message.received_at_ms, zone)
    return RejectedView(
        received=f"{figures.date_text(received)}, {received:%H:%M:%S}",
        received_iso=received.isoformat(),
        topic=cut(harmless(message.topic), _LONGEST_SHOWN),
        outcome=message.outcome.value,
        reason=cut(harmless(message.reason), _LONGEST_SHOWN),
        payload=payload_start(message.payload, SHOWN_PAYLOAD_BYTES) or "(empty)",
    )
