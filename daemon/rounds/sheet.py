"""Pure: what a box shows to whoever is about to open it: what was measured since somebody last looked into it.

Values are canonical (°C, % RH), times UTC ms.
"""

from dataclasses import dataclass

from config.words import Quantity
from daemon.clutches.eggs import EggCounts
from daemon.clutches.measures import Swelling
from daemon.development.window import HatchWindow, NoWindow
from daemon.rounds.values import BoxState


@dataclass(frozen=True, slots=True)
class Measured:
    """What one quantity was. None where nothing was read.

    Hours outside are counted by the means of ten minutes (of an hour where the span is longer than eight days), against
    the limits of their time. `low` and `high` are the limits that hold now. `measured_at`: the name of the place whose
    probe speaks for the box, and `in_box` whether that is the box itself. `ends_below`: the last of these stretches was
    below the lower limit.
    """

    quantity: Quantity
    mean: float | None
    least: float | None
    most: float | None
    hours_below: float
    hours_above: float
    hours_known: float
    hours_unknown: float
    low: float | None
    high: float | None
    measured_at: str
    in_box: bool
    ends_below: bool = False


@dataclass(frozen=True, slots=True)
class WaterOnLid:
    """Hours with water on the lid, as they are to be expected, and of how many hours that is known.

    `since_ms`: seven days back at the most. `stays_wet`: it was wet at the newest reading. `least_h` are certain and
    `most_h` possible, as sure as the probes are; None where that was not worked out.
    """

    hours: float
    hours_known: float
    since_ms: int
    stays_wet: bool
    least_h: float | None = None
    most_h: float | None = None

    @property
    def is_vague(self) -> bool:
        """True where what is expected is hardly more than the middle of what nobody can tell. Project choice."""
        apart_h = 0.0 if self.least_h is None or self.most_h is None else self.most_h - self.least_h
        return apart_h > self.hours_known / 2


@dataclass(frozen=True, slots=True)
class ClutchSheet:
    """The clutch in the box. Heat in °C·h since laying; `share` of the development, None where nobody can tell.

    `watched_since_ms`, `pipped_since_ms`: when that was said last of one of its eggs; None where none is.
    """

    clutch_id: int
    label: str
    species_id: str
    species_name: str
    group: str
    counts: EggCounts
    watched: tuple[str, ...]
    left_in_place: tuple[str, ...]
    marked: tuple[str, ...]
    day: int
    degree_hours_ch: float | None
    share: float | None
    window: HatchWindow | NoWindow
    venomous: bool
    protected: str
    caution: str
    note: str
    swelling: Swelling | None = None
    watched_since_ms: int | None = None
    pipped_since_ms: int | None = None


@dataclass(frozen=True, slots=True)
class BoxSheet:
    """All that is known of a box before it is opened.

    The figures are of `since_ms` until `until_ms`: from when somebody last looked into it (`since_why` says what that
    was), thirty days back at the most, to the start of the round. `dry_out` is a sentence, and `dry_days` how many days
    from `until_ms` are likely left; both say nothing where there is no trend. `last`: what was found last, before this
    round. `behind`: some readings are not counted yet.
    """

    key: str
    since_ms: int
    since_why: str
    until_ms: int
    temperature: Measured | None
    humidity: Measured | None
    water_on_lid: WaterOnLid | None
    dry_out: str
    dry_days: float | None
    clutch: ClutchSheet | None
    last: BoxState | None
    last_looked_ms: int | None
    behind: bool = False
