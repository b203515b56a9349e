"""What the parts of a review hand to each other. Times are UTC milliseconds since the epoch."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


class Span(NamedTuple):
    """A stretch of time; `to_ms` is None where it is not over."""

    from_ms: int
    to_ms: int | None

    def until(self, now_ms: int) -> int:
        """Its end, or now."""
        return now_ms if self.to_ms is None else self.to_ms


class FactKind(StrEnum):
    """What the journal shows that may be part of an incident."""

    PROBE_GAP = "probe-gap"
    """one channel said nothing"""
    SITE_GAP = "site-gap"
    """all channels of the site said nothing"""
    EXCURSION = "excursion"
    """a place was outside the limits of what lay in it"""
    MAINS_ABSENT = "mains-absent"
    BROKER_LOST = "broker-lost"
    SERVICE_STOPPED = "service-stopped"
    """this program was ended in good order and started again"""
    SERVICE_CUT_OFF = "service-cut-off"
    """this program ended without a word, and the machine went on"""
    MACHINE_RESTARTED = "machine-restarted"
    """this program ended without a word, and the machine was started anew before it ran again"""
    MACHINE_SLEPT = "machine-slept"
    """the machine was suspended, and this program with it"""
    CLOCK_STEP = "clock-step"
    DELIVERY_FAILED = "delivery-failed"
    """a message reached nobody"""
    PROBE_FAULT = "probe-fault"
    """readings that cannot be true, or probes that contradict each other"""


class Cause(StrEnum):
    """Why, as far as the journal shows it."""

    MAINS_LOST = "mains-lost"
    MACHINE_OFF = "machine-off"
    MACHINE_SLEPT = "machine-slept"
    SERVICE_STOPPED = "service-stopped"
    SERVICE_CUT_OFF = "service-cut-off"
    BROKER_LOST = "broker-lost"
    PROBE_SILENT = "probe-silent"
    PROBE_FAULT = "probe-fault"
    CLOCK_SET = "clock-set"
    DELIVERY = "delivery"
    HEATING = "heating"
    """out of range with mains present, and all probes there"""
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that happened. `place` is empty for the whole site; `words` is a sentence with its evidence."""

    kind: FactKind
    span: Span
    place: str
    subject: str
    """the channel, the contact or the run that it is about"""
    words: str
    critical: bool = False
    """an alarm of the highest priority was raised about it"""


@dataclass(frozen=True, slots=True)
class Incident:
    """Facts that belong together, with the cause that the journal shows and the sentences that speak for it.

    `incident_id` is 0 where it has not been stored. `places` are those of its facts; a fact about the whole site adds
    none. `review` says why people have to review it; empty where no rule asks for that.
    """

    incident_id: int
    span: Span
    facts: tuple[Fact, ...]
    cause: Cause
    evidence: tuple[str, ...]
    places: tuple[str, ...]
    review: str = ""

    @property
    def needs_review(self) -> bool:
        """True where a rule asks people to say what it was, what they did and what came of it."""
        return bool(self.review)


class Verdict(StrEnum):
    """Whether a limit was kept over a stretch of time. A gap is neither in nor out by itself."""

    IN = "in"
    OUT = "out"
    UNKNOWN = "unknown"


class Bounds(NamedTuple):
    """An interval of about 95 %, with the best estimate between its ends; None where nothing speaks for one value."""

    low: float
    best: float | None
    high: float
