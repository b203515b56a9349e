"""What a source of standing conditions is given at each look, and what it has to be."""

import sqlite3
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

from config.words import AlarmKind
from daemon.occupancy import Occupancy
from daemon.standing.found import Found
from daemon.thermometers import AirChannels


@dataclass(frozen=True, slots=True)
class Moment:
    """One look: a transaction on the journal as it is now, who lies where, calibrations, and which alarms are on."""

    conn: sqlite3.Connection
    now_ms: int
    occupancy: Occupancy
    air: AirChannels
    is_on: Callable[[AlarmKind, str], bool]
    set_by_ms: int = 0
    """by how much the clock was set since the last look, 0 where it was not"""


class Source(Protocol):
    """Reads what one group of standing conditions is judged by and asks its rules in `daemon/standing`.

    `kinds` are all that it may find: what it does not find of them does not hold. `every_ms` is the shortest time
    between two looks. A look must not write, wait or take long: readings are evaluated in the same thread.
    """

    @property
    def kinds(self) -> frozenset[AlarmKind]:
        """Which alarms it may find."""
        ...

    @property
    def every_ms(self) -> int:
        """The shortest time between two looks, ms of the service's clock."""
        ...

    def found(self, moment: Moment) -> Iterable[Found]:
        """Everything that holds at this moment, and of what nothing can be said."""
        ...
