"""What the agent on a board says of itself, as values. Pure.

None of it is trusted: texts are texts of somebody else, and no number of it becomes a reading.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class BoardState:
    """How an agent is with one probe, by its own word; None or empty for what it does not say.

    `said_ms`: when, by its clock, UTC ms. `waiting`: readings that the broker has not. `full`: how much of its room for
    them is taken, 0 to 1; `oldest_s` the age of the oldest of them. Counts of what is lost are since its spool was
    begun: `given_up` for want of room, `damaged` on its disk, `undated` since its clock never was right. `missed`:
    measurements that it could not make in time. `certificate_ends_s`: until when the certificate of the broker is
    good, in seconds since 1970 UTC. `disk` is why its disk takes nothing. `faults`: a sentence for each
    channel without a value, which begins with the kind of fault and a colon.
    """

    said_ms: int | None = None
    version: str = ""
    waiting: int | None = None
    given_up: int = 0
    damaged: int = 0
    undated: int = 0
    missed: int = 0
    full: float | None = None
    oldest_s: float | None = None
    certificate_ends_s: float | None = None
    clock: str = ""
    disk: str = ""
    faults: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def lost(self) -> int:
        """Readings that nobody gets any more."""
        return self.given_up + self.damaged + self.undated

    @property
    def clock_is_right(self) -> bool | None:
        """Whether it knows what time it is; None where it does not say."""
        return None if not self.clock else self.clock == CLOCK_RIGHT


CERTIFICATE_SOON_S = 30 * 86_400
"""So long before its end a certificate is told of: time to make a new one beside all other work. Project choice."""
CLOCK_RIGHT = "right"
DISK_WELL = "well"
