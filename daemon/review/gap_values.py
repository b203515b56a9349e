"""Pure: a gap and the readings beside it. Times are UTC ms, temperatures degree Celsius."""

from dataclasses import dataclass
from typing import NamedTuple

from daemon.review.values import Span

NOISE_K = 0.1
"""So far from the truth of its probe a single reading may be: noise and steps. Project choice."""
MS_PER_HOUR = 3_600_000


class Known(NamedTuple):
    """A reading beside a gap, corrected by its calibration."""

    at_ms: int
    temperature_c: float


class HeatOff(NamedTuple):
    """Evidence that the heat was off: over which span, where (a place, or "" for the site), and a sentence.

    A span that ends inside a gap says that the heat came back then. Where it reaches to the end of the gap, or is not
    over, nobody saw the heat come back, and when it did is estimated from the reading after.
    """

    span: Span
    place: str
    evidence: str

    def holds_for(self, place: str) -> bool:
        """Tell whether it speaks of this place."""
        return not self.place or place == self.place or place.startswith(f"{self.place}/")


@dataclass(frozen=True, slots=True)
class Around:
    """A gap and the readings beside it.

    `from_ms` is the time of the reading before and `to_ms` that of the reading after; where one is missing, the end of
    what is asked for. `noise_k`: how far each may be off. `slope_after_k_h`: how fast the readings after the gap
    change, None where it is not known.
    """

    from_ms: int
    to_ms: int
    before: Known | None
    after: Known | None
    slope_after_k_h: float | None = None
    noise_k: float = NOISE_K

    @property
    def highest_before_c(self) -> float:
        """The most that the reading before can mean; infinite where there is none."""
        return float("inf") if self.before is None else self.before.temperature_c + self.noise_k

    @property
    def lowest_before_c(self) -> float:
        """The least that it can mean; minus infinity where there is none."""
        return float("-inf") if self.before is None else self.before.temperature_c - self.noise_k
