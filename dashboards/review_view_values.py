"""What the page of an account is made of. Plain values."""

from dataclasses import dataclass

from dashboards.drawing import Drawing
from dashboards.standing import Mark


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit of a place: its figure, whether it was kept, how long and how far it was passed.

    `is_out`: it was, or may have been.
    """

    name: str
    figure: str
    mark: Mark
    hours: str
    degree_hours: str
    is_out: bool


@dataclass(frozen=True, slots=True)
class PlaceView:
    """A place: its drawing where it has a probe of its own, its limits as a table, and what was measured.

    `mark` tells of temperature; `unread` says that no probe measures the humidity that its clutches need.
    """

    key: str
    name: str
    mark: Mark
    drawing: Drawing | None
    limits: tuple[LimitRow, ...]
    unread: str
    words: tuple[str, ...]
    is_open: bool


@dataclass(frozen=True, slots=True)
class ClutchView:
    """A clutch: `gist` is what it lost and when it hatches now, `words` all that is known.

    `is_open`: there is something of weight to tell of it.
    """

    key: str
    path: str
    label: str
    species: str
    where: str
    venomous: bool
    caution: str
    mark: Mark
    gist: tuple[str, ...]
    words: tuple[str, ...]
    is_open: bool


@dataclass(frozen=True, slots=True)
class ToDoView:
    """One thing to do. `first` is before all else."""

    text: str
    about: str
    source: str
    first: bool


@dataclass(frozen=True, slots=True)
class ToldView:
    """One message, with what became of it."""

    mark: Mark
    words: str


@dataclass(frozen=True, slots=True)
class LineView:
    """One line of the timeline. `day` is said where it is another than that of the line before."""

    day: str
    time: str
    kind: str
    where: str
    words: str


@dataclass(frozen=True, slots=True)
class AccountView:
    """The whole account. `number` is 0 for a period of one's own; `mark` says how far its review is, None there."""

    number: int
    asked_number: int
    heading: str
    site_name: str
    clock: str
    zone: str
    period: str
    mark: Mark | None
    summary: tuple[str, ...]
    cause: str
    evidence: tuple[str, ...]
    places: tuple[PlaceView, ...]
    clutches: tuple[ClutchView, ...]
    told: tuple[ToldView, ...]
    blind: str
    blind_parts: tuple[str, ...]
    todo: tuple[ToDoView, ...]
    timeline: tuple[LineView, ...]
    not_known: tuple[str, ...]
    others: tuple[tuple[int, str], ...]
    chain: str
