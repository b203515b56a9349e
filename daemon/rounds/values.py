"""Pure: what somebody finds in a box during a round, as it is sent and as it stands on record. Times are UTC ms."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from daemon.clutches.eggs import Stated


class Medium(StrEnum):
    """The medium as the hand feels it."""

    DRY = "dry"
    CLUMPS = "clumps"
    WET = "wet"


class Lid(StrEnum):
    """The inside of the lid as the eye sees it."""

    DRY = "dry"
    BEADS = "beads"
    DRIPPING = "dripping"


class Where(StrEnum):
    """Where water was put on the medium. On the eggs is no choice."""

    EDGES = "edges"
    CORNER = "corner"
    WHOLE = "whole"


class Clock(StrEnum):
    """What was wrong with the clock that an entry was made by: then the time of arrival counts."""

    FITS = ""
    AHEAD = "ahead"
    BEFORE_THE_ROUND = "before-the-round"


MEDIUM_WORDS = {
    Medium.DRY: "dry, falls apart",
    Medium.CLUMPS: "clumps, holds together",
    Medium.WET: "wet, water comes out",
}
LID_WORDS = {Lid.DRY: "dry", Lid.BEADS: "beads of water", Lid.DRIPPING: "dripping"}
WHERE_WORDS = {Where.EDGES: "along the edges", Where.CORNER: "in one corner", Where.WHOLE: "over the whole medium"}
ALL_WELL_WORDS = "Medium clumps, lid dry, eggs looked at, nothing found."
"""What the two taps for a box without findings state, word for word."""
ALL_WELL_THROUGH_LID_WORDS = "Looked through the lid only: lid dry, nothing to be seen."
"""The same for a box that is not opened."""


@dataclass(frozen=True, slots=True)
class EggsSeen:
    """What some eggs of the box are: those with these marks or numbers, or so many of them."""

    stated: Stated
    which: tuple[str, ...] | int


@dataclass(frozen=True, slots=True)
class Entry:
    """What somebody enters for one box; None and empty where nothing is said.

    `entry_id`: a UUID that the client makes once, so that what is sent twice is stored once. `device` and `seq`: a name
    that the client gives itself and a number that rises with each of its entries; they keep the order where its clock
    jumps. `made_ms`: by the clock of the client, None for now. `all_well` states exactly ALL_WELL_WORDS, or, with
    `through_lid`, ALL_WELL_THROUGH_LID_WORDS. `trained_handler`: the person says to be trained for venomous animals.
    `treated`: with what and where, such as `powder on the spot`. `skipped`: why the box was left out. `corrects`: the
    entry that this one takes the place of.
    """

    entry_id: str
    box: str
    who: str
    device: str = ""
    seq: int = 0
    made_ms: int | None = None
    medium: Medium | None = None
    lid: Lid | None = None
    wiped: bool = False
    water_ml: float | None = None
    water_where: Where | None = None
    looked_at_eggs: bool = False
    eggs: tuple[EggsSeen, ...] = ()
    treated: str = ""
    remark: str = ""
    skipped: str = ""
    all_well: bool = False
    through_lid: bool = False
    trained_handler: bool = False
    corrects: str = ""


@dataclass(frozen=True, slots=True)
class EggsDone:
    """What the register made of `EggsSeen`: which eggs and the numbers of its events, or why it took nothing."""

    seen: EggsSeen
    names: tuple[str, ...] = ()
    events: tuple[int, ...] = ()
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """An entry on record.

    `at_ms` is when it counts, `received_ms` when it came. `late`: it came after the round had ended. `clutch_id` is
    what lay in the box then.
    """

    number: int
    round_number: int
    entry: Entry
    clutch_id: int | None
    at_ms: int
    received_ms: int
    late: bool = False
    clock: Clock = Clock.FITS
    eggs: tuple[EggsDone, ...] = ()


@dataclass(frozen=True, slots=True)
class Water:
    """Water that was added: ml, and where, None where it was not said."""

    ml: float
    where: Where | None
    who: str


@dataclass(frozen=True, slots=True)
class Remark:
    """What somebody wrote, and when (UTC ms)."""

    text: str
    who: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two people saw the same thing differently; what was said later counts. `what`: medium or lid."""

    what: str
    earlier: str
    earlier_who: str
    later: str
    later_who: str


@dataclass(frozen=True, slots=True)
class BoxState:
    """What all entries for one box of one round come to. The newest word on medium and lid counts, water adds up.

    `findings` are all entries in order, also those that another one corrects: their ids are in `corrected`.
    """

    box: str
    findings: tuple[Finding, ...]
    corrected: frozenset[str] = frozenset()
    medium: Medium | None = None
    lid: Lid | None = None
    wiped: bool = False
    water: tuple[Water, ...] = ()
    looked_at_eggs: bool = False
    eggs: tuple[EggsDone, ...] = ()
    treated: tuple[str, ...] = ()
    remarks: tuple[Remark, ...] = ()
    skipped: str = ""
    all_well: bool = False
    through_lid_only: bool = False
    disagreements: tuple[Disagreement, ...] = ()
    at_ms: int = 0
    who: tuple[str, ...] = ()
    late: bool = False

    @property
    def water_ml(self) -> float:
        """All water that was added, ml."""
        return sum(each.ml for each in self.water)

    @property
    def is_seen(self) -> bool:
        """True where somebody looked; False where the box was skipped, or nothing stands."""
        return bool(self.findings) and not self.skipped and self.at_ms > 0

    @property
    def is_begun(self) -> bool:
        """True where only eggs were spoken of: the box was opened, and nobody said a word of its medium and its lid."""
        about_box = self.medium is not None or self.lid is not None or self.wiped or self.water
        return self.is_seen and bool(self.eggs) and not about_box

    @property
    def taken(self) -> tuple[EggsDone, ...]:
        """What the register took."""
        return tuple(each for each in self.eggs if not each.refused)

    @property
    def not_taken(self) -> tuple[EggsDone, ...]:
        """What the register did not take: somebody has to look."""
        return tuple(each for each in self.eggs if each.refused)


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo on record. `file`: relative to the folder of the photos. `made_ms` by the clock of whoever made it."""

    photo_id: str
    entry_id: str
    round_number: int
    box: str
    clutch_id: int | None
    who: str
    made_ms: int | None
    received_ms: int
    file: str
    byte_count: int
    width: int
    height: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Stop:
    """One place of the walk: a box, or a clutch that lies on a shelf or in an incubator without a box.

    `key` is the place of a box, `place@number` with the number of the clutch for a clutch without one. `name` does not
    repeat the incubator's; `whole_name` does. `clutch_id` is None for an empty box.
    `cautioned`: the profile of the species has a caution for whoever goes near, such as that hatchlings bite.
    """

    key: str
    place: str
    name: str
    whole_name: str
    incubator: str
    incubator_name: str
    clutch_id: int | None = None
    label: str = ""
    species_name: str = ""
    venomous: bool = False
    cautioned: bool = False

    @property
    def is_empty(self) -> bool:
        """True for a box without a clutch."""
        return self.clutch_id is None


@dataclass(frozen=True, slots=True)
class Stored:
    """An entry was stored. `said` has sentences about what was not taken as it was sent; mostly it is empty."""

    finding: Finding
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Already:
    """The very entry, or photo, is on record: nothing was stored again."""

    number: int | str


@dataclass(frozen=True, slots=True)
class Refused:
    """Nothing was stored: why, what to do, and the field that it is about, empty where it is about the whole."""

    reason: str
    hint: str
    field: str = ""

    def __str__(self) -> str:
        return f"{self.reason}. {self.hint}"


def key_of(place: str, clutch_id: int | None, *, is_box: bool) -> str:
    """Give the key of a stop."""
    return place if is_box or clutch_id is None else f"{place}@{clutch_id}"


def named(words: Sequence[str]) -> str:
    """Put words into a sentence: `a, b and c`."""
    if len(words) < 2:  # noqa: PLR2004 - one word needs no "and"
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
