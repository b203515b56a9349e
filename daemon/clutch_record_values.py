"""What the page of one clutch shows, as plain values. Filled by `daemon/clutch_record.py`, drawn by `dashboards/`."""

from dataclasses import dataclass
from typing import Literal

from config.words import Quantity
from daemon.alarms.limits import Limits
from daemon.clutches.eggs import EggCounts
from daemon.overview import ClutchNow
from daemon.rounds.values import Photo
from daemon.storage.clutch_history import Change


@dataclass(frozen=True, slots=True)
class EggsAndCheck:
    """How the eggs of a clutch are, None where nobody knows; and when it is to be seen again, UTC ms.

    `next_check_ms` is None where none is: the clutch is closed, not set up yet, or its place is gone. `why`: what was
    found in its box in its last round, where it is to be seen before it is due.
    """

    eggs: EggCounts | None = None
    next_check_ms: int | None = None
    why: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HeatPoint:
    """Heat from laying to a moment, °C·h: what is most likely, and between what it lies at about 95 %."""

    at_ms: int
    low_ch: float
    best_ch: float
    high_ch: float


@dataclass(frozen=True, slots=True)
class ClimateCell:
    """What a probe read in a stretch of time, calibrated (°C or % RH); a stretch without readings has no cell.

    `gap_before`: too long before its first reading there was none.
    """

    start_ms: int
    end_ms: int
    least: float
    mean: float
    most: float
    gap_before: bool = False


@dataclass(frozen=True, slots=True)
class LimitSpan:
    """The limits of the place where a clutch lay, from one moment until before another; None where nothing is stated.

    In the unit of the quantity. The two lethal ones only for a temperature.
    """

    start_ms: int
    end_ms: int
    low: float | None
    high: float | None
    lethal_low: float | None = None
    lethal_high: float | None = None


@dataclass(frozen=True, slots=True)
class Climate:
    """Air temperature or humidity where a clutch lay, over its whole time.

    `probes`: whose readings these are, in order. Hours are reckoned in stretches of ten minutes, each by its mean:
    `hours_below` and `hours_above` the limits of their time, of `hours_read`; of `hours_unread` nothing is known.
    `is_behind`: readings wait to be worked in. `why_empty` says why there is no cell.
    """

    quantity: Quantity
    cells: tuple[ClimateCell, ...]
    limits: tuple[LimitSpan, ...]
    probes: tuple[str, ...]
    hours_read: float
    hours_unread: float
    hours_below: float
    hours_above: float
    is_behind: bool = False
    why_empty: str = ""


@dataclass(frozen=True, slots=True)
class Stay:
    """Where a clutch lay, from when until when; `end_ms` is None while it lies there."""

    place: str
    name: str
    from_ms: int
    end_ms: int | None


@dataclass(frozen=True, slots=True)
class ClutchEvent:
    """Something that happened to a clutch or where it lay. `end_ms` is None for a moment, or while it goes on.

    `what` is for people; `why` may be empty. `goes_on`: it began and has not ended.
    """

    at_ms: int
    kind: Literal["set-up", "move", "close", "alarm", "round", "found", "eggs"]
    what: str
    why: str = ""
    end_ms: int | None = None
    goes_on: bool = False


@dataclass(frozen=True, slots=True)
class AlsoStated:
    """What else the register has of a clutch. `venomous`: trained handlers alone go near it.

    `protected`: what the law asks of its keeper, in their words. `found_ms`: when the eggs were found, UTC ms.
    """

    venomous: bool = False
    protected: str = ""
    dam: str = ""
    sire: str = ""
    found_ms: int | None = None
    tags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ClutchRecord:
    """Everything on the page of one clutch at one moment.

    `shown_ms` is the moment that the clutch is shown at: now, or when it was closed. `limits` are those of its place
    then. `alarms_left_out`: so many older alarms are not among the `events`.
    """

    site_name: str
    time_zone: str
    fahrenheit: bool
    now_ms: int
    shown_ms: int
    closed_at_ms: int | None
    clutch: ClutchNow
    place_name: str
    note: str
    population: str | None
    heat: tuple[HeatPoint, ...]
    limits: Limits
    temperature: Climate
    humidity: Climate
    stays: tuple[Stay, ...]
    events: tuple[ClutchEvent, ...]
    alarms_left_out: int
    changes: tuple[Change, ...]
    told: EggsAndCheck = EggsAndCheck()
    also: AlsoStated = AlsoStated()
    photos: tuple[Photo, ...] = ()
    """in the order in which they came"""


@dataclass(frozen=True, slots=True)
class OtherClutch:
    """A clutch that no incubator of the overview holds: closed, or in a place that the site has no more."""

    clutch: ClutchNow
    place_name: str
    closed_at_ms: int | None


@dataclass(frozen=True, slots=True)
class ClosedClutch:
    """A clutch of the past: as it was when it was closed, how its eggs were then, and what else the register has."""

    other: OtherClutch
    told: EggsAndCheck
    also: AlsoStated
