"""What is known when the text of an alert is written. Pure."""

from dataclasses import dataclass
from datetime import tzinfo
from enum import StrEnum

from config.words import AlarmKind, Quantity
from daemon.alarms.definitions import AlarmDefinition
from daemon.alarms.figures import clock_text, value_text
from daemon.alarms.time_left import Ahead
from daemon.alarms.wrong import LIMITED


class Stage(StrEnum):
    """What a message says about an alarm."""

    RAISED = "raised"
    STILL = "still"
    """a reminder: nothing has changed"""
    CLEARED = "cleared"
    TAKEN = "taken"
    """somebody has acknowledged it; the others hear so"""
    REVIEW = "review"
    """it is out of service, and it is time to look at that"""
    TEST = "test"


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertFacts:
    """What is known when the message is written. Values in canonical units; None or empty where it is not known."""

    stage: Stage
    definition: AlarmDefinition
    place: str
    """for people, the largest part first: `North cabinet, upper shelf, box N1`; the site where it is about no place"""
    about: str = ""
    """what it is about where that is more than the place: a clutch, a contact"""
    quantity: Quantity | None
    """of the channel that it is about; None where it is about no channel"""
    since_ms: int
    now_ms: int
    zone: tzinfo
    fahrenheit: bool = False
    ended_ms: int | None = None
    """when it was cleared, by the readings"""
    value: float | None = None
    """of the newest reading"""
    limit: float | None = None
    worst: float | None = None
    rate_per_h: float | None = None
    last_reading_ms: int | None = None
    time_left: str = ""
    """`about 3 h if the heat is off`; only what was measured or calculated for this place, else the usual words"""
    ahead: Ahead | None = None
    """the limit that it goes to without heat, with the forecast; stands behind "Time left:" where that is empty"""
    told: tuple[str, ...] = ()
    """names of the others who were told"""
    also: tuple[str, ...] = ()
    """what else is wrong and called for by this message"""
    who: str = ""
    """who has acknowledged"""
    clutches: tuple[str, ...] = ()
    caution: str = ""
    """what whoever goes there must know of the animals inside"""
    must_say: str = ""
    """the same where it may never be left out, however little room there is; short"""
    left: str = ""
    """what is left to do of an alarm that is over"""
    detail: str = ""
    """why, in words: the flags of a faulty probe, the limit that was removed"""
    still_out: AlarmKind | None = None
    """a cleared alarm leaves the place out of range in this other way"""
    link: str = ""

    @property
    def is_inside(self) -> bool:
        """True where the newest value of an alarm about a limit is on the good side of it."""
        if self.value is None or self.limit is None or self.definition.kind not in LIMITED:
            return False
        return self.value < self.limit if self.definition.kind.endswith("high") else self.value > self.limit

    def figure(self, value: float) -> str:
        """Write a value of this alarm's channel."""
        if self.quantity is None:
            raise ValueError(f"an alarm about no channel has no value: {self.definition.kind}")
        return value_text(value, self.quantity, self.fahrenheit, self.limit)

    def clock(self, moment_ms: int) -> str:
        """Write a moment as local time of day."""
        return clock_text(moment_ms, self.now_ms, self.zone)


@dataclass(frozen=True, slots=True)
class AlertText:
    """What is sent: at most 60 characters of headline, and 300 in all without the link."""

    headline: str
    body: str
