"""Pure: a clutch as it is entered, and as it stands on record. Times are UTC ms."""

from collections.abc import Sequence
from dataclasses import dataclass

from daemon.clutches.placements import FOR_EVER_MS, Placement


@dataclass(frozen=True, slots=True)
class NewClutch:
    """A clutch to be entered: laid between two moments, set up in `place` at `from_ms`.

    `before_c`: how warm the eggs lay until they were set up, degree Celsius, with its standard uncertainty in K; None
    where nobody stated it. `venomous` is None where the profile of the species decides. `protected`: what the law asks
    of the keeper of this species, in their words. `first_mass_g` and `first_length_mm`: size of one egg at the set-up.
    """

    label: str
    species_id: str
    population: str | None
    laid_from_ms: int
    laid_to_ms: int
    egg_count: int
    note: str
    place: str
    from_ms: int
    before_c: float | None = None
    before_u_k: float | None = None
    dam: str = ""
    sire: str = ""
    found_ms: int | None = None
    tags: tuple[str, ...] = ()
    venomous: bool | None = None
    protected: str = ""
    first_mass_g: float | None = None
    first_length_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Clutch:
    """A clutch on record. `placements` are in order of time; the first is its setting up."""

    clutch_id: int
    label: str
    species_id: str
    population: str | None
    laid_from_ms: int
    laid_to_ms: int
    egg_count: int
    note: str
    closed_at_ms: int | None
    placements: tuple[Placement, ...]
    before_c: float | None = None
    before_u_k: float | None = None
    dam: str = ""
    sire: str = ""
    found_ms: int | None = None
    tags: tuple[str, ...] = ()
    venomous: bool | None = None
    protected: str = ""
    withdrawn_at_ms: int | None = None

    @property
    def is_open(self) -> bool:
        """True while it lies somewhere."""
        return self.closed_at_ms is None and self.withdrawn_at_ms is None

    @property
    def set_up_ms(self) -> int:
        """When it came into the incubator."""
        return self.placements[0].from_ms

    @property
    def end_ms(self) -> int:
        """When its stay ended; a moment that never comes while it is open."""
        return FOR_EVER_MS if self.closed_at_ms is None else self.closed_at_ms


def is_venomous(clutch: Clutch, profile_says: bool) -> bool:
    """Tell whether trained handlers alone may go near it: as set for it, else as the profile of its species says."""
    return profile_says if clutch.venomous is None else clutch.venomous


def labels(clutches: Sequence[Clutch]) -> str:
    """Name clutches in a sentence."""
    return ", ".join(each.label for each in clutches) or "none"
