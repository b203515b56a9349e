"""Pure: who lies where at which time, and the limits that follow for a place."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence

from config.places import Places
from config.species import SpeciesProfile
from daemon.alarms.limits import Limits, Occupant, overlap
from daemon.clutches.register import Clutch, Placement
from daemon.clutches.values import is_venomous

FOR_EVER_MS = 2**62


def stays(clutch: Clutch) -> tuple[tuple[Placement, int], ...]:
    """Each placement of a clutch with the moment it ended: the next move, the closing, or not yet."""
    ends = [placement.from_ms for placement in clutch.placements[1:]]
    ends.append(FOR_EVER_MS if clutch.closed_at_ms is None else clutch.closed_at_ms)
    return tuple(zip(clutch.placements, ends, strict=True))


class Occupancy:
    """The register at one version, asked by place and time.

    `stage_begins`: for each clutch the moment from which each stage of its profile is in force. Answers are cached
    between two moments at which somebody moved or a stage began, so that a reading costs a look-up.
    """

    def __init__(
        self,
        clutches: Sequence[Clutch],
        places: Places,
        profiles: Mapping[str, SpeciesProfile],
        stage_begins: Mapping[int, Sequence[int]] | None = None,
    ) -> None:
        self.clutches = tuple(clutches)
        self._stage_begins = stage_begins or {}
        self._places = places
        self._profiles = profiles
        self._stays = [(clutch, stay.place, stay.from_ms, end) for clutch in clutches for stay, end in stays(clutch)]
        moments = {moment for _, _, start, end in self._stays for moment in (start, end)}
        moments.update(moment for begins in self._stage_begins.values() for moment in begins if moment < FOR_EVER_MS)
        self._moments = sorted(moments)
        self._limits: dict[tuple[str, int], Limits] = {}

    def lying_in(self, place: str, moment_ms: int) -> tuple[Clutch, ...]:
        """The clutches in a place, or in any part of it, at that moment."""
        within = set(self._places.within(place))
        return tuple(
            clutch for clutch, where, start, end in self._stays if where in within and start <= moment_ms < end
        )

    def within_reach(self, place: str, moment_ms: int) -> tuple[Clutch, ...]:
        """The clutches that whoever answers an alarm of this place comes near: those of the whole incubator.

        Those of all the site where the alarm is about no place in it, or about one that is not there any more.
        """
        if self._places.exists(place):
            return self.lying_in(self._places.incubator_of(place).id, moment_ms)
        return tuple(clutch for clutch, _, start, end in self._stays if start <= moment_ms < end)

    def needs_caution(self, clutch: Clutch) -> bool:
        """True for a venomous clutch, and where the profile of its species has a caution for whoever goes near."""
        profile = self._profiles.get(clutch.species_id)
        cautioned = profile is not None and profile.caution is not None
        return cautioned or self.is_venomous(clutch)

    def is_venomous(self, clutch: Clutch) -> bool:
        """True where trained handlers alone may go near a clutch."""
        profile = self._profiles.get(clutch.species_id)
        return is_venomous(clutch, profile is not None and profile.venomous)

    def _stage(self, clutch: Clutch, moment_ms: int) -> int | None:
        begun = [
            index for index, from_ms in enumerate(self._stage_begins.get(clutch.clutch_id, ())) if from_ms <= moment_ms
        ]
        return begun[-1] if begun else None

    def unchanged(self, moment_ms: int) -> tuple[int, int]:
        """From when until when nobody moves and no stage begins, around that moment: start included, end not."""
        index = bisect_right(self._moments, moment_ms)
        start = self._moments[index - 1] if index else -FOR_EVER_MS
        return start, self._moments[index] if index < len(self._moments) else FOR_EVER_MS

    def limits(self, place: str, moment_ms: int) -> Limits:
        """The overlap of what the clutches there need at that moment. No clutch, no limits."""
        key = (place, bisect_right(self._moments, moment_ms))
        if key not in self._limits:
            occupants = [
                Occupant(clutch.label, self._profiles[clutch.species_id], self._stage(clutch, moment_ms))
                for clutch in self.lying_in(place, moment_ms)
                if clutch.species_id in self._profiles
            ]
            self._limits[key] = overlap(occupants)
        return self._limits[key]
