"""Pure: sizes of eggs over time, and how far they have swollen. Masses in g, lengths in mm, times UTC ms."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from daemon.clutches.errors import RegisterError

SWELLS_TO = 1.5
"""Eggs swell towards so many times their first size by mid-term: common practice, no source."""
_LEAST_G, _MOST_G = 0.05, 20_000.0
_LEAST_MM, _MOST_MM = 2.0, 250.0
"""Project choice: wider than the eggs of any reptile, so that what is outside is a slip of the keyboard."""
_SHORT = 1e5
"""From here on a number is written out, and not as a power of ten that people misread."""


@dataclass(frozen=True, slots=True)
class NewMeasure:
    """What was measured at a moment: of one egg, or of the clutch where `egg` is None.

    `mass_g` is that of `eggs` eggs together, `length_mm` that of one egg, or their mean.
    """

    at_ms: int
    mass_g: float | None = None
    length_mm: float | None = None
    eggs: int = 1
    egg: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Measure:
    """A measurement on record. `withdrawn`: it was taken back."""

    number: int
    measured: NewMeasure
    who: str
    withdrawn: bool = False

    @property
    def mean_g(self) -> float | None:
        """The mass of one egg, or its mean."""
        return None if self.measured.mass_g is None else self.measured.mass_g / self.measured.eggs


@dataclass(frozen=True, slots=True)
class Swelling:
    """How the newest size compares with the first: `ratio`, of mass where both have it, else of length.

    `hint` is for people, and says where its figure comes from.
    """

    ratio: float
    of: str
    since_ms: int
    at_ms: int
    hint: str


def refuse_measure(new: NewMeasure, egg_count: int) -> None:
    """Raise RegisterError for sizes that no eggs have."""
    if new.mass_g is None and new.length_mm is None:
        raise RegisterError("no size is given", "Give a mass in g, a length in mm, or both.", "mass_g")
    if not 1 <= new.eggs <= egg_count:
        raise RegisterError(
            f"{new.eggs} eggs were not weighed together: the clutch has {egg_count}",
            "Say how many lay on the scales.",
            "eggs",
        )
    for size, unit, least, most, field in (
        (None if new.mass_g is None else new.mass_g / new.eggs, "g", _LEAST_G, _MOST_G, "mass_g"),
        (new.length_mm, "mm", _LEAST_MM, _MOST_MM, "length_mm"),
    ):
        if size is not None and not least <= size <= most:
            shown = f"{size:g}" if size < _SHORT else f"{size:,.0f}"
            raise RegisterError(
                f"{shown} {unit} is not the size of an egg", f"Give {least:g} to {most:g} {unit} for one egg.", field
            )


def swelling(measures: Iterable[Measure], egg: int | None = None) -> Swelling | None:
    """Compare the newest size of an egg, or of the clutch where `egg` is None, with its first.

    None where there are not two that can be compared.
    """
    of_it = [one for one in measures if one.measured.egg == egg and not one.withdrawn]
    of_it.sort(key=lambda one: (one.measured.at_ms, one.number))
    masses = [(one.mean_g, one.measured.at_ms) for one in of_it if one.mean_g is not None]
    lengths = [(one.measured.length_mm, one.measured.at_ms) for one in of_it if one.measured.length_mm is not None]
    for of, sizes in (("mass", masses), ("length", lengths)):
        if len(sizes) > 1 and sizes[0][1] < sizes[-1][1]:
            (first, since_ms), (last, at_ms) = sizes[0], sizes[-1]
            return Swelling(last / first, of, since_ms, at_ms, _hint(last / first, [size for size, _ in sizes]))
    return None


def _hint(ratio: float, sizes: Sequence[float]) -> str:
    practice = f"Eggs swell towards {SWELLS_TO:g} times their first size by mid-term (common practice, no source)."
    if ratio < 1:
        return f"Smaller than at first: feel the medium, it may be too dry, and look whether it is alive. {practice}"
    if any(later < earlier for earlier, later in list(pairwise(sizes))[-1:]):
        return f"Smaller than last time: feel the medium, it may have dried. Near the end eggs dent. {practice}"
    return practice
