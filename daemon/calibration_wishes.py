"""What somebody wants to have stored as a calibration, and what is known of every channel. Pure values.

Values are canonical (°C, % RH; differences K, % RH), times UTC ms.
"""

import hashlib
from dataclasses import dataclass

from config.errors import StatedError
from daemon.calibration_text import Offer
from sensors.calibration import Calibrations, Record, Stated
from sensors.settling import Settling

USUAL_DUE = "1y"
"""When a calibration is to be repeated where nothing is said: common practice, no source."""


class FieldError(StatedError):
    """A StatedError about one field of a form; `field` is its name, empty where it is about the whole."""

    def __init__(self, field: str, error: StatedError) -> None:
        super().__init__(error.reason, error.hint)
        self.field = field


@dataclass(frozen=True, slots=True)
class Terms:
    """The dates and the small print; None takes what is usual.

    `at_ms` is when the form was first sent: what the probe says is read up to then, and what is not dated counts from
    then.
    """

    at_ms: int
    taken_ms: int | None = None
    since_ms: int | None = None
    due: str = ""
    repeatability_u: float | None = None
    drift_per_year: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class OnePoint:
    """Beside a reference. Without a `reading` the settled mean of the probe is taken. `shown`: read from a page."""

    reference: float
    reading: float | None
    accuracy: float
    shown: bool | None = None


@dataclass(frozen=True, slots=True)
class TwoPoint:
    """Beside one reference at two points."""

    low_reference: float
    low_reading: float
    high_reference: float
    high_reading: float
    accuracy: float
    shown: bool | None = None


@dataclass(frozen=True, slots=True)
class Withdraw:
    """From a date on the probe counts as never calibrated."""


Wish = OnePoint | TwoPoint | Withdraw


@dataclass(frozen=True, slots=True)
class ChannelNow:
    """One channel, and where it stands in the site file."""

    channel: str
    place: str
    stated: Stated


@dataclass(frozen=True, slots=True)
class AllChannels:
    """Every channel that can be calibrated, and what counts of it."""

    now_ms: int
    site_name: str
    time_zone: str
    fahrenheit: bool
    channels: tuple[ChannelNow, ...]
    calibrations: Calibrations


@dataclass(frozen=True, slots=True)
class OneChannel:
    """One channel: all that is on record, oldest first, and what its probe has said in the last minutes."""

    now_ms: int
    site_name: str
    time_zone: str
    fahrenheit: bool
    channel: ChannelNow
    calibrations: Calibrations
    history: tuple[Record, ...]
    heard: Settling
    heard_over_ms: int


@dataclass(frozen=True, slots=True)
class Offered:
    """A calibration as it is shown before it is stored, and the mark of what was shown.

    `on_record`: how many there were of the channel.
    """

    offer: Offer
    mark: str
    on_record: int


def mark_of(offer: Offer, on_record: int) -> str:
    """Make a mark of what was shown; it changes where another calibration or other readings would give another one.

    Who stores it, and when, is no part of it, nor is the newest reading, which goes on.
    """
    record = offer.record
    shown = (
        record.channel,
        record.valid_from_ms,
        record.line,
        record.method,
        record.taken_at_ms,
        record.due_at_ms,
        record.note,
        on_record,
    )
    return hashlib.blake2b(repr(shown).encode(), digest_size=12).hexdigest()
