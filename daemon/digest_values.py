"""What the digest of a day tells, as plain values. Times are UTC ms; values are in the unit of their quantity."""

from dataclasses import dataclass
from datetime import tzinfo

from config.words import Priority, Quantity
from daemon.development.window import HatchWindow, NoWindow


@dataclass(frozen=True, slots=True)
class ChannelDay:
    """One channel in the last day; None where nothing was read. `missing_ms` is the time without readings.

    `low` and `high` are the limits of its place as they are now, None where nothing is watched.
    """

    quantity: Quantity
    least: float | None
    mean: float | None
    most: float | None
    missing_ms: int
    low: float | None = None
    high: float | None = None

    @property
    def is_below(self) -> bool:
        """True where it was below the limit at least once."""
        return self.low is not None and self.least is not None and self.least < self.low

    @property
    def is_above(self) -> bool:
        """True where it was above the limit at least once."""
        return self.high is not None and self.most is not None and self.most > self.high


@dataclass(frozen=True, slots=True)
class PlaceDay:
    """What was measured at one place; `name` is for people, the largest part first."""

    name: str
    channels: tuple[ChannelDay, ...]


@dataclass(frozen=True, slots=True)
class OpenAlarm:
    """An alarm that is on, or that waits for a person; `state` is the word of ISA-18.2 / IEC 62682."""

    priority: Priority
    place: str
    what: str
    since_ms: int
    state: str


@dataclass(frozen=True, slots=True)
class NotTold:
    """An alarm of which nobody is told at present: `how` that is, up to the word before the moment, and why."""

    place: str
    what: str
    how: str
    until_ms: int
    why: str = ""


@dataclass(frozen=True, slots=True)
class ClutchDay:
    """One clutch. `share` of its development, None where nobody can tell. `alarm`: one is open where it lies."""

    label: str
    share: float | None
    window: HatchWindow | NoWindow
    alarm: bool


@dataclass(frozen=True, slots=True)
class Digest:
    """All of it, at one moment.

    `rounds`, `reviews`, `backups` and `troubles` are whole sentences; the latter are of the service itself.
    `journal_code` is that of the newest link of the chain over events.
    """

    now_ms: int
    zone: tzinfo
    fahrenheit: bool
    open: tuple[OpenAlarm, ...] = ()
    not_told: tuple[NotTold, ...] = ()
    troubles: tuple[str, ...] = ()
    rounds: tuple[str, ...] = ()
    reviews: tuple[str, ...] = ()
    backups: tuple[str, ...] = ()
    places: tuple[PlaceDay, ...] = ()
    clutches: tuple[ClutchDay, ...] = ()
    journal_code: str = ""
