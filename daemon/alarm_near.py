"""Pure: what whoever answers an alarm has to know of the animals in reach, before everything else."""

from typing import NamedTuple

from config.model import ROOM
from daemon.occupancy import Occupancy
from daemon.rounds.cautions import VENOMOUS

DANGEROUS = "Dangerous animals inside"
"""Without a full stop, and short: it is left out of no message, however little room there is."""
PROTOCOL = "Your written protocol first, never alone"


class Near(NamedTuple):
    """`must_say` stands first and is never left out, `then` where there is room; both empty where nothing is to say."""

    must_say: str = ""
    then: str = ""

    @property
    def text(self) -> str:
        """Both, without a full stop at the end."""
        return ". ".join(filter(None, self))


class NearAlarms:
    """Asks the register once for each place. Whoever opens a cabinet for one box has all of its boxes in reach."""

    def __init__(self, occupancy: Occupancy) -> None:
        self._occupancy = occupancy
        self._found: dict[tuple[str, int], Near] = {}

    def of(self, place: str, moment_ms: int) -> Near:
        """Say it of an alarm of this place; an empty one is the whole site. The room has no animals."""
        if place == ROOM:
            return Near()
        key = place, moment_ms
        if key not in self._found:
            near = self._occupancy.within_reach(place, moment_ms)
            if any(map(self._occupancy.is_venomous, near)):
                self._found[key] = Near(VENOMOUS, PROTOCOL)
            elif any(map(self._occupancy.needs_caution, near)):
                self._found[key] = Near(DANGEROUS, PROTOCOL)
            else:
                self._found[key] = Near()
        return self._found[key]
