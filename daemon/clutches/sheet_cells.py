"""Pure: the register as a CSV table (RFC 4180, UTF-8): its columns, and a cell from a value and back.

A spreadsheet takes a cell that begins with = + - or @ for a formula. Here every cell is text, so one that begins with
such a character (or with a tab, a line break or an apostrophe) is written with an apostrophe before it, and reading
takes that one off again: nothing can be run by opening the file, and nothing is lost on the way back.
"""

import csv
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from config.errors import StatedError
from config.plain import nearest
from daemon.clutches.errors import RegisterError
from daemon.clutches.placements import Placement
from daemon.local_moments import stated_ms

KINDS = ("clutch", "mark", "egg", "size", "note")
"""What a row can be about. Each names its clutch by `label` and `set_up`."""
OF_CLUTCH = (
    *("species", "population", "dam", "sire", "laid_from", "laid_to", "found", "place", "moves", "closed"),
    *("egg_count", "kept_at_c", "kept_within_k", "tags", "venomous", "protected"),
)
OF_EGGS = ("at", "egg", "state", "by_count", "mass_g", "length_mm", "eggs_weighed", "who")
COLUMNS = ("row", "label", "set_up", *OF_CLUTCH, "note")
ALL_COLUMNS = (*COLUMNS, *OF_EGGS)
_DELIMITERS = ",;\t"
_APOSTROPHE = "'"
_ESCAPED = frozenset("=+-@\t\r\n" + _APOSTROPHE)
_MOST_DIGITS = 12
_BETWEEN_MOVES = "; "


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a file: the line on which it begins, and its cells by column; without columns that the file lacks."""

    line: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")

    @property
    def kind(self) -> str:
        """What it is about; a file without that column has clutches alone."""
        return self["row"].strip().casefold() or "clutch"


class _Lines(list[str]):
    """What the writer writes into."""

    write = list.append


def written(columns: Iterable[str], rows: Iterable[Mapping[str, str]]) -> str:
    """Write a table with a line of column names."""
    names, sheet = list(columns), _Lines()
    writer = csv.writer(sheet, lineterminator="\r\n")
    writer.writerow(names)
    writer.writerows([_escaped(row.get(name, "")) for name in names] for row in rows)
    return "".join(sheet)


def rows_of(text: str) -> list[Row]:
    """Read a table. Commas, semicolons or tabs separate, whichever the first line has most of.

    Blank lines are left out, and columns whose name begins with #. Raises RegisterError where it cannot be read.
    """
    first = text.split("\n", 1)[0]
    delimiter = max(_DELIMITERS, key=first.count)
    lines = iter(_lines(text, delimiter))
    _, header = next(lines, (1, []))
    names = [name.strip().casefold() for name in header]
    _refuse_columns(names)
    return [Row(line, _cells(names, cells, line)) for line, cells in lines]


def _lines(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    # No other line end: any may stand inside a cell.
    reader = csv.reader((f"{line}\n" for line in text.split("\n")), delimiter=delimiter, strict=True)
    before = 0
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield before + 1, cells
            before = reader.line_num
    except csv.Error as error:
        raise RegisterError(
            f"line {before + 1} cannot be read as CSV ({error})",
            "Put a cell with a comma, a quote or a line break into double quotes, and double the quotes inside it.",
        ) from None


def _refuse_columns(names: list[str]) -> None:
    if "label" not in names:
        raise RegisterError(
            "the first line has no column named label",
            f"It has to name these columns, or those of them that you use: {', '.join(COLUMNS)}.",
        )
    for name in names:
        if name and not name.startswith("#") and name not in ALL_COLUMNS:
            hint = f"{nearest(name, ALL_COLUMNS)} A column that is not for the register begins with #."
            raise RegisterError(f"there is no column {name!r}", hint)
        if name and names.count(name) > 1:
            raise RegisterError(f"two columns are named {name!r}", "Take one of them out.")


def _cells(names: list[str], cells: list[str], line: int) -> dict[str, str]:
    if len(cells) > len(names):
        raise RegisterError(
            f"line {line} has {len(cells)} cells for {len(names)} columns", "Put text with a comma in double quotes."
        )
    found = {name: _plain(cell) for name, cell in zip(names, cells, strict=False)}
    return {name: cell for name, cell in found.items() if name and not name.startswith("#")}


def _escaped(cell: str) -> str:
    return _APOSTROPHE + cell if cell[:1] in _ESCAPED else cell


def _plain(cell: str) -> str:
    is_escaped = cell[:1] == _APOSTROPHE and cell[1:2] in _ESCAPED
    return cell[1:] if is_escaped and len(cell) > 1 else cell


def moment_cell(moment_ms: int | None, zone: ZoneInfo) -> str:
    """Write a moment (UTC ms) in ISO 8601 with the offset of the site, to the millisecond where it has any."""
    if moment_ms is None:
        return ""
    local = (
        (datetime.fromtimestamp(moment_ms // 1000, UTC)).astimezone(zone).replace(microsecond=moment_ms % 1000 * 1000)
    )
    return local.isoformat(timespec="milliseconds" if moment_ms % 1000 else "seconds")


def moment_of(cell: str, column: str, zone: ZoneInfo) -> int:
    """Read a moment (UTC ms): ISO 8601 with an offset, or as people type it here. Raises RegisterError."""
    try:
        read = datetime.fromisoformat(cell.strip())
        if read.tzinfo is not None:
            return round(read.timestamp() * 1000)
    except (ValueError, OverflowError):
        pass
    try:
        return stated_ms(cell, zone)
    except StatedError as error:
        raise RegisterError(f"{column}: {error.reason}", f"{error.hint}.".capitalize(), column) from None


def day_end_of(cell: str, column: str, zone: ZoneInfo) -> int:
    """Read a moment (UTC ms); of a date alone it is the end of that day. Raises RegisterError."""
    try:
        day = date.fromisoformat(cell.strip())
    except ValueError:
        return moment_of(cell, column, zone)
    return moment_of(f"{day.isoformat()} 23:59:59", column, zone)


def number_cell(value: float | None) -> str:
    """Write a number so that it reads back as the same."""
    return "" if value is None else repr(value)


def number_of(cell: str, column: str) -> float:
    """Read a number, with a point or a comma. Raises RegisterError."""
    try:
        found = float(cell.strip().replace(",", "."))
    except ValueError:
        found = float("nan")
    if found != found or found in (float("inf"), float("-inf")):  # noqa: PLR0124 - not a number
        raise RegisterError(f"{column}: {cell.strip()!r} is not a number", "Write it without a unit: 24.5", column)
    return found


def whole_of(cell: str, column: str) -> int:
    """Read a whole number. Raises RegisterError."""
    text = cell.strip()
    if not (text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS):
        text = text if len(text) <= _MOST_DIGITS else f"{text[:_MOST_DIGITS]}..."
        raise RegisterError(f"{column}: {text!r} is not a whole number", "Write digits alone: 9", column)
    return int(text)


def yes_of(cell: str, column: str) -> bool:
    """Read yes or no. Raises RegisterError."""
    word = cell.strip().casefold()
    if word not in ("yes", "no"):
        raise RegisterError(f"{column}: {cell.strip()!r} is neither yes nor no", "Write yes or no.", column)
    return word == "yes"


def moves_cell(moves: Iterable[Placement], zone: ZoneInfo) -> str:
    """Write moves: `2026-05-10T12:00:00+02:00 north/upper/N2; ...`."""
    return _BETWEEN_MOVES.join(f"{moment_cell(stay.from_ms, zone)} {stay.place}" for stay in moves)


def moves_of(cell: str, zone: ZoneInfo) -> tuple[Placement, ...]:
    """Read moves: a time and a place, semicolons between. Raises RegisterError."""
    found = []
    for part in filter(None, (each.strip() for each in cell.split(";"))):
        when, _, place = part.rpartition(" ")
        if not when:
            raise RegisterError(
                f"moves: {part!r} is not a time and a place", "Write: 2026-05-10 12:00 north/upper/N2", "moves"
            )
        found.append(Placement(place, moment_of(when, "moves", zone)))
    return tuple(found)
