"""Labels of boxes: what stands on each, its code, and how many go on a sheet. Pure.

Paper and numbers of labels are project choices. Codes are of error correction level M at least (ISO/IEC 18004: about
15 % of a code may be unreadable), raised where that makes a code no larger; a module is at least 0.4 mm wide, so that a
phone reads it in damp air through a lid: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.development.window import HatchWindow
from daemon.overview import ClutchNow
from dashboards import figures

LEAST_MODULE_MM = 0.4
QUIET = 4
"""Modules of white around a code (ISO/IEC 18004)."""
SMALL_ACROSS = 3
_SMALL_FROM, _SMALLER_FROM = 12, 28
"""Letters from which a line is set smaller, and smaller again, so that it fits: tried in a browser."""


@dataclass(frozen=True, slots=True)
class Size:
    """A sheet: its paper, labels across and down, and how wide a code is with its quiet zone, mm."""

    key: str
    words: str
    paper: str
    across: int
    down: int
    code_mm: float

    @property
    def is_large(self) -> bool:
        """True where a label has room for more than the scientific name of its species."""
        return self.across < SMALL_ACROSS

    @property
    def on_sheet(self) -> int:
        """How many labels go on one."""
        return self.across * self.down


SIZES = (
    Size("a4-2x5", "A4, 2 across and 5 down: large", "a4", 2, 5, 34.0),
    Size("a4-3x8", "A4, 3 across and 8 down: small", "a4", 3, 8, 26.0),
    Size("letter-2x5", "Letter, 2 across and 5 down: large", "letter", 2, 5, 34.0),
    Size("letter-3x8", "Letter, 3 across and 8 down: small", "letter", 3, 8, 26.0),
)


@dataclass(frozen=True, slots=True)
class OnLabel:
    """What a label is for. `name` is large; `clutch` is empty for an empty box. `path`: where its code leads."""

    key: str
    name: str
    where: str
    path: str
    clutch: str = ""
    species: str = ""
    scientific: str = ""
    laid: str = ""
    due: str = ""
    venomous: bool = False


@dataclass(frozen=True, slots=True)
class Code:
    """A QR code as the path of an SVG of `size` units, its quiet zone included."""

    squares: str
    size: int


@dataclass(frozen=True, slots=True)
class Label:
    """A label with its code. Classes set long lines smaller."""

    on: OnLabel
    code: Code
    name_class: str
    clutch_class: str


def code_of(rows: Sequence[Sequence[int]]) -> Code:
    """Draw a code from its rows of 0 and 1; dark ones side by side are one stroke."""
    parts = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            if not row[x]:
                x += 1
                continue
            end = x
            while end < len(row) and row[end]:
                end += 1
            parts.append(f"M{x + QUIET} {y + QUIET}h{end - x}v1h-{end - x}z")
            x = end
    return Code("".join(parts), len(rows) + 2 * QUIET)


def module_mm(code: Code, size: Size) -> float:
    """Give how wide one module of a code is on this sheet."""
    return size.code_mm / code.size


def label_of(on: OnLabel, code: Code) -> Label:
    """Give a label."""
    return Label(on, code, _class(on.name), _class(on.clutch))


def _class(text: str) -> str:
    return "smaller" if len(text) > _SMALLER_FROM else "small" if len(text) > _SMALL_FROM else ""


def sheets(labels: Sequence[Label], size: Size) -> list[Sequence[Label]]:
    """Give the labels by sheet."""
    return [labels[start : start + size.on_sheet] for start in range(0, len(labels), size.on_sheet)]


def dates(now: ClutchNow | None, zone: ZoneInfo) -> tuple[str, str]:
    """Say when a clutch was laid and when it is due, as well as anybody knows; empty where nobody does."""
    if now is None:
        return "", ""
    first, last = (figures.local(each, zone) for each in (now.laid_from_ms, now.laid_to_ms))
    laid = figures.full_date_text(first)
    if first.date() != last.date():
        laid = f"{figures.date_text(first)} to {figures.full_date_text(last)}"
    if not isinstance(now.window, HatchWindow):
        return laid, "not known"
    earliest, latest = (figures.local(each, zone) for each in (now.window.earliest_ms, now.window.latest_ms))
    return laid, f"{figures.date_text(earliest)} to {figures.full_date_text(latest)}"
