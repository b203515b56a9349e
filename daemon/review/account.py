"""Pure: the account of a period, as commands, pages and the printed sheet tell it.

Times are UTC ms, temperatures degree Celsius; every text is written already, in local time and in the unit of the site.
"""

from dataclasses import dataclass
from enum import StrEnum

from daemon.review.clutch import ClutchReview
from daemon.review.clutch_advice import Advice
from daemon.review.place import PlaceReview
from daemon.review.values import Incident, Span

MARGIN_MS = 2 * 3_600_000
"""So much before and after an incident belongs to its account, so that normal is seen on both sides. Project choice."""

EARLIER_MS = 30 * 86_400_000
"""So far back earlier incidents in the same places are told. Project choice."""


class LineKind(StrEnum):
    """What a line of the timeline is about."""

    SAMPLE = "sample"
    """a reading that is worth a line: the last before a gap, the first after it, the lowest, the highest"""
    GAP = "gap"
    POWER = "power"
    LINK = "link"
    """the broker, or readings that came afterwards"""
    SERVICE = "service"
    """this program: ended, cut off, started, started with its machine"""
    CLOCK = "clock"
    ALARM = "alarm"
    PERSON = "person"
    """somebody acknowledged, shelved, reset, wrote a note"""
    MESSAGE = "message"
    DOOR = "door"
    ROUND = "round"
    CHANGE = "change"
    """somebody changed the site, a limit, the register, a calibration, people"""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the timeline. `place` is its id, empty for the whole site; `place_name` for people, empty as well.

    `words` is a sentence or two without the time, which is `at_ms` and written by `at_text`.
    """

    at_ms: int
    at_text: str
    kind: LineKind
    place: str
    place_name: str
    words: str


@dataclass(frozen=True, slots=True)
class PlaceAccount:
    """One place, in figures and in sentences."""

    review: PlaceReview
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ClutchAccount:
    """One clutch, in figures and in sentences; `advice` is what to do for it now."""

    review: ClutchReview
    words: tuple[str, ...]
    advice: tuple[Advice, ...]


class Fate(StrEnum):
    """What became of a message."""

    ACCEPTED = "accepted"
    """its receiver took it; whether somebody looked at it then nobody can know"""
    WAITING = "waiting"
    GIVEN_UP = "given up"
    POINTLESS = "pointless"
    """it was over, or taken by somebody, before it could be sent"""


@dataclass(frozen=True, slots=True)
class ToldLine:
    """One message: what was told to whom, and what became of it.

    `made_ms`: when it was written. `accepted_ms`: when its receiver took it, None where it did not. `seen_ms`,
    `seen_by`: the first acknowledgement after it of an alarm that it told of, which is the first proof that somebody
    has seen it; None and empty where there is none. `called`: it woke somebody, other than one that says that it is
    over. `words` is a sentence with all of it.
    """

    made_ms: int
    contact: str
    who: str
    about: str
    fate: Fate
    attempts: int
    accepted_ms: int | None
    seen_ms: int | None
    seen_by: str
    called: bool
    words: str


class BlindKind(StrEnum):
    """Why this program saw nothing."""

    SERVICE = "service"
    BROKER = "broker"
    SITE = "site"
    """it ran and was connected, and all probes were silent"""
    PROBE = "probe"


@dataclass(frozen=True, slots=True)
class BlindStretch:
    """A stretch over which this program saw nothing, of all or of one channel (`subject`). `words`: a sentence."""

    kind: BlindKind
    span: Span
    subject: str
    place: str
    words: str


@dataclass(frozen=True, slots=True)
class Blind:
    """How long this program itself was blind within the period.

    `total_ms`: the time over which nothing at all was seen, counted once where stretches overlap; `share` is that part
    of the period, 0 to 1. `probe_ms`: for each channel that fell silent, all the time without a reading of it, that
    above included. `words`: a sentence that says it all.
    """

    stretches: tuple[BlindStretch, ...]
    total_ms: int
    share: float
    probe_ms: tuple[tuple[str, int], ...]
    words: str


@dataclass(frozen=True, slots=True)
class ToDo:
    """One thing to do now. `about`: the clutch or place that it is for, empty for the whole; `first`: before all."""

    text: str
    about: str
    source: str
    first: bool = False


@dataclass(frozen=True, slots=True)
class KeeperNote:
    """What somebody wrote about the incident: `field` is cause, action, outcome or prevention. The newest counts."""

    field: str
    at_ms: int
    at_text: str
    who: str
    text: str


@dataclass(frozen=True, slots=True)
class Review:
    """The account of a period.

    `period`: what is looked at, both ends within what has passed (`to_ms` is never None). `incident` is None where
    somebody asked for a period of their own; then `others` are the incidents in it. `asked_number`: the number that
    was asked for, another one than the incident's own where that one ended in it. `heading`: a title in a few words;
    `period_text`: the period with day and zone. `summary`: what happened, in three sentences, then what asks for it to
    be reviewed. `chain_code`: head of the chain of events, empty where there is none. `is_going_on`: the incident
    lasts still, so this is what is known so far. `room`: what the room was meanwhile, a sentence. `earlier`: what was
    found in the same places in the weeks before, a sentence each.
    """

    period: Span
    now_ms: int
    incident: Incident | None
    others: tuple[Incident, ...]
    asked_number: int
    heading: str
    site_name: str
    time_zone: str
    fahrenheit: bool
    period_text: str
    made_text: str
    summary: tuple[str, ...]
    timeline: tuple[Line, ...]
    places: tuple[PlaceAccount, ...]
    clutches: tuple[ClutchAccount, ...]
    told: tuple[ToldLine, ...]
    blind: Blind
    todo: tuple[ToDo, ...]
    not_known: tuple[str, ...]
    notes: tuple[KeeperNote, ...]
    chain_code: str
    is_going_on: bool
    room: str = ""
    earlier: tuple[str, ...] = ()

    def said(self, field: str) -> str:
        """What was written last of cause, action, outcome or prevention; empty where nothing was."""
        return next((note.text for note in reversed(self.notes) if note.field == field), "")

    @property
    def waits_for_review(self) -> bool:
        """True where a rule asks people to write what came of it and nobody has."""
        return self.incident is not None and self.incident.needs_review and not self.said("outcome")
