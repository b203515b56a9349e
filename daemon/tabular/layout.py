"""Finding out how a table is laid out: delimiter, header, columns, decimal sign, where the data begin."""

from collections.abc import Sequence
from dataclasses import dataclass

from config.plain import nearest
from daemon.tabular.cells import COMMENT, Column, is_number, split_cells
from daemon.tabular.errors import TableError, shown
from daemon.tabular.times import TimeFormat, is_time

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
DECIMALS = {".": "point", ",": "comma"}
_ROWS_LOOKED_AT = 200
_MOST_TOLD = 12


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which columns, by header or by number from 1, and what the keeper states about the table; None is found out."""

    time_columns: tuple[str, ...]
    columns: tuple[Column, ...]
    delimiter: str | None = None
    decimal: str | None = None
    time_format: TimeFormat | None = None

    @property
    def words(self) -> tuple[str, ...]:
        """All columns as asked for: those of the time, then those of the readings."""
        return (*self.time_columns, *(column.word for column in self.columns))


@dataclass(frozen=True, slots=True)
class Layout:
    """How a table is laid out. Columns count from 0, lines from 1; without a header there are no names."""

    delimiter: str
    decimal: str
    header_line: int | None
    first_data_line: int
    time_columns: tuple[int, ...]
    columns: tuple[int, ...]
    names: tuple[str, ...]
    width: int

    def time_text(self, cells: Sequence[str]) -> str:
        """The time of a row, from one cell or from those of date and time."""
        return " ".join(cells[column].strip() for column in self.time_columns)

    def name(self, column: int) -> str:
        """A column as people know it."""
        return shown(self.names[column]) if column < len(self.names) else f"number {column + 1}"


@dataclass(frozen=True, slots=True)
class _Header:
    line: int | None
    names: tuple[str, ...]
    time_columns: tuple[int, ...]
    columns: tuple[int, ...]


def find_layout(head: Sequence[str], wanted: Wanted) -> Layout:
    """Find the layout from the first lines of a table.

    Raises TableError where the columns are not there, no delimiter gives times and readings, or two do.
    """
    if not any(line.strip() for line in head):
        raise TableError(None, "the file is empty", "Save the record once more from the logger's program.")
    candidates = list(DELIMITERS) if wanted.delimiter is None else [wanted.delimiter]
    headers = [(delimiter, _header(head, delimiter, wanted)) for delimiter in candidates]
    headed = [(delimiter, header) for delimiter, header in headers if header is not None]
    if not headed:
        raise _no_column(head, candidates, wanted)
    failures: list[TableError] = []
    layouts: list[Layout] = []
    for delimiter, header in headed:
        try:
            layouts.append(_laid_out(head, delimiter, header, wanted))
        except TableError as error:
            failures.append(error)
    if not layouts:
        raise max(failures, key=lambda error: error.line or 0)
    if len(layouts) > 1:
        names = " or ".join(_word(one.delimiter) for one in layouts)
        raise TableError(None, f"the delimiter can be {names}", "Give --delimiter.")
    return layouts[0]


def check_width(cells: Sequence[str], layout: Layout, line: int) -> None:
    """Raise TableError where a row lacks a column, or holds more than the header names."""
    needed = max(*layout.time_columns, *layout.columns) + 1
    if len(cells) < needed:
        raise TableError(
            line,
            f"the row ends after {len(cells)} of {layout.width} cells",
            "It may be cut off: take it out, or save the record once more.",
        )
    if any(cell.strip() for cell in cells[layout.width :]):
        hint = "Take out what does not belong there, or put cells with a delimiter inside into double quotes."
        if layout.delimiter == ",":
            hint = "Are these decimal commas? Then save it with semicolons between the cells, or the cells in quotes."
        raise TableError(line, f"the row has {len(cells)} cells, the table {layout.width}", hint)


def is_skipped(line: str) -> bool:
    """Whether a line is blank or a comment."""
    return not line.strip() or line.lstrip().startswith(COMMENT)


def _header(head: Sequence[str], delimiter: str, wanted: Wanted) -> _Header | None:
    """Find the first line that holds all the names; with numbers alone there is none to look for."""
    asked = wanted.words
    if all(_number(word) is not None for word in asked):
        return _header_of(None, (), [_number(word) or 0 for word in asked], wanted)
    for number, line in enumerate(head, 1):
        names = _names(line, delimiter)
        columns = [_column(word, names) for word in asked]
        if -1 not in columns:
            _require_single(asked, names, number)
            return _header_of(number, names, columns, wanted)
    return None


def _header_of(line: int | None, names: tuple[str, ...], columns: Sequence[int], wanted: Wanted) -> _Header:
    times = len(wanted.time_columns)
    for index, column in enumerate(columns):
        if column in columns[:index]:
            word = wanted.words[index]
            raise TableError(line, f"the column {shown(word)} is asked for twice", "Give each what it holds, once.")
    return _Header(line, names, tuple(columns[:times]), tuple(columns[times:]))


def _names(line: str, delimiter: str) -> tuple[str, ...]:
    try:
        cells = split_cells(line.lstrip(f"{COMMENT} "), delimiter, 0)
    except TableError:
        return ()
    return tuple(cell.strip() for cell in cells)


def _column(word: str, names: Sequence[str]) -> int:
    """Column of a number or a name; -1 where the names do not hold it."""
    number = _number(word)
    if number is not None:
        return number if number < len(names) else -1
    lowered = [name.casefold() for name in names]
    return lowered.index(word.strip().casefold()) if word.strip().casefold() in lowered else -1


def _number(word: str) -> int | None:
    return int(word) - 1 if word.strip().isdecimal() and int(word) > 0 else None


def _require_single(asked: Sequence[str], names: Sequence[str], line: int) -> None:
    lowered = [name.casefold() for name in names]
    for word in asked:
        if lowered.count(word.strip().casefold()) > 1:
            raise TableError(line, f"two columns are headed {shown(word)}", "Give the column by its number, from 1.")


def _laid_out(head: Sequence[str], delimiter: str, header: _Header, wanted: Wanted) -> Layout:
    rows = _rows(head, delimiter, header, wanted)
    if not rows:
        what = "humidity" if not any(column.quantity.is_temperature for column in wanted.columns) else "temperature"
        raise TableError(header.line, f"no row with a time and a {what} follows", _nothing_follows(header))
    first_line, first_cells = rows[0]
    decimal = wanted.decimal or _decimal(rows, header.columns)
    line, names = header.line, header.names
    if line is None and first_line > 1:
        above = _names(head[first_line - 2], delimiter)
        line, names = (first_line - 1, above) if len(above) == len(first_cells) else (None, ())
    width = len(names) or len(first_cells)
    layout = Layout(delimiter, decimal, line, first_line, header.time_columns, header.columns, names, width)
    for number, cells in rows:
        check_width(cells, layout, number)
    if delimiter == "," and not names and wanted.decimal is None:
        for column in header.columns:
            if column + 1 not in header.columns:
                _require_no_split_decimals(rows, column)
    return layout


def _require_no_split_decimals(rows: Sequence[tuple[int, list[str]]], column: int) -> None:
    """Without a header nothing tells `28,4` from 28 and 4."""
    pairs = [cells[column : column + 2] for _, cells in rows]
    if all(len(pair) > 1 and all(cell.strip().isdecimal() for cell in pair) for pair in pairs):
        number = ",".join(cell.strip() for cell in pairs[0])
        hint = "Give --decimal . where it is two; where it is one, save it with semicolons between the cells."
        raise TableError(rows[0][0], f"{number} may be one number with a decimal comma, or two", hint)


def _rows(head: Sequence[str], delimiter: str, header: _Header, wanted: Wanted) -> list[tuple[int, list[str]]]:
    """Give the first data rows: from the first with a time or a temperature on, so a line of units is passed over."""
    rows: list[tuple[int, list[str]]] = []
    for number, line in enumerate(head, 1):
        if number <= (header.line or 0) or is_skipped(line):
            continue
        if not rows and header.line is None and delimiter not in line:
            continue
        cells = split_cells(line, delimiter, number)
        if not rows and not _is_data(cells, header, wanted):
            continue
        rows.append((number, cells))
        if len(rows) == _ROWS_LOOKED_AT:
            break
    return rows


def _is_data(cells: Sequence[str], header: _Header, wanted: Wanted) -> bool:
    """Whether a row is one of data. Under a header either cell is enough, so that a garbled row is told, not passed."""
    if max(*header.time_columns, *header.columns) >= len(cells):
        return False
    number = any(is_number(cells[column], decimal) for column in header.columns for decimal in DECIMALS)
    time = is_time(" ".join(cells[column].strip() for column in header.time_columns), wanted.time_format)
    return time or (number and header.line is not None)


def _decimal(rows: Sequence[tuple[int, list[str]]], columns: Sequence[int]) -> str:
    """Find the decimal sign; whole numbers alone leave the point."""
    signs: dict[str, dict[int, int]] = {sign: {} for sign in DECIMALS}
    for line, cells in rows:
        for column in columns:
            for sign, met in signs.items():
                if column < len(cells) and sign in cells[column] and is_number(cells[column], sign):
                    met.setdefault(column, line)
    if signs["."] and signs[","]:
        where = "in one column" if signs["."].keys() & signs[","].keys() else "in two columns"
        raise TableError(
            max(min(met.values()) for met in signs.values()),
            f"decimal points and decimal commas {where}",
            "Make them alike; or give --decimal, if one is wrong.",
        )
    return "," if signs[","] else "."


def _nothing_follows(header: _Header) -> str:
    if header.line is None:
        return (
            "Check the numbers of the columns (from 1), and give --delimiter and --time-format where they are unusual."
        )
    return "Check that the record is complete, and that these are the right columns."


def _no_column(head: Sequence[str], candidates: Sequence[str], wanted: Wanted) -> TableError:
    """Say which column is missing, beside the names of the line that looks most like a header."""
    lines = [(number, _names(line, one)) for number, line in enumerate(head, 1) for one in candidates if line.strip()]
    named = [(number, names) for number, names in lines if not any(is_number(name, ".") for name in names)]
    number, names = max(named or lines, key=lambda line: len(line[1]))
    asked = wanted.words
    missing = next((word for word in asked if _column(word, names) == -1), asked[0])
    known = [name for name in names if name][:_MOST_TOLD]
    return TableError(number, f"no column is headed {shown(missing)}", nearest(missing.strip(), known))


def _word(delimiter: str) -> str:
    return DELIMITERS.get(delimiter, shown(delimiter))
