"""Durations at constant temperatures as people give them: a CSV file, or a few pairs on the command line."""

import csv
import io
from pathlib import Path

from config.errors import StatedError
from daemon.development.durations import Duration

COLUMNS = "temperature_c, days, and where known n, days_sd, source"
_DELIMITERS = ",;\t"


def parse_durations(text: str) -> list[Duration]:
    """Read `24:85,27:61.6,30:41`, degree Celsius and days. Raises StatedError with the part that is none."""
    found = []
    for part in text.split(","):
        temperature, colon, days = part.partition(":")
        if not colon:
            reason = f"{part.strip()!r} is not a temperature and a duration"
            raise StatedError(reason, "Write °C:days, commas between, points in numbers: 24:85,27:61.6,30:41")
        found.append(Duration(_number(temperature, part), _number(days, part)))
    return found


def read_durations(path: Path) -> list[Duration]:
    """Read a CSV file with a line of column names; lines that begin with # are remarks.

    Comma, semicolon or tab separate, whichever the first line uses most. Columns of other names are left alone. Raises
    StatedError with the line that cannot be used.
    """
    lines = [(number, line) for number, line in enumerate(_text(path).splitlines(), 1) if _says_something(line)]
    if not lines:
        raise StatedError(f"{path} holds no durations", f"Begin with a line of column names: {COLUMNS}.")
    delimiter = max(_DELIMITERS, key=lines[0][1].count)
    names = [name.strip().casefold() for name in _cells(lines[0][1], delimiter)]
    missing = [name for name in ("temperature_c", "days") if name not in names]
    if missing:
        reason = f"{path} has no column {' and no column '.join(missing)}; its columns are {', '.join(names)}"
        raise StatedError(reason, f"The first line names the columns: {COLUMNS}. Temperatures are in °C.")
    found = []
    for number, line in lines[1:]:
        cells = _cells(line, delimiter)
        where = f"line {number} of {path}"
        if len(cells) > len(names):
            reason = f"{where} has {len(cells)} cells for {len(names)} columns"
            raise StatedError(reason, "Write numbers with a point, and put text with a comma in it in double quotes.")
        found.append(_duration(dict(zip(names, cells, strict=False)), where))
    return found


def _says_something(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        reason = f"{path} cannot be read: {(error.strerror or str(error)).lower()}"
        raise StatedError(reason, f"Name a CSV file with the columns {COLUMNS}.") from None
    except UnicodeDecodeError as error:
        reason = f"{path} is not UTF-8 text (byte {error.start + 1})"
        raise StatedError(reason, "Save it again as CSV in UTF-8.") from None


def _cells(line: str, delimiter: str) -> list[str]:
    return next(csv.reader(io.StringIO(line), delimiter=delimiter))


def _duration(row: dict[str, str], where: str) -> Duration:
    eggs, days_sd = row.get("n", "").strip(), row.get("days_sd", "").strip()
    return Duration(
        temperature_c=_number(row.get("temperature_c", ""), where),
        days=_number(row.get("days", ""), where),
        eggs=_whole_number(eggs, where) if eggs else None,
        days_sd=_number(days_sd, where) if days_sd else None,
        source=" ".join(row.get("source", "").split()),
    )


def _number(text: str, where: str) -> float:
    try:
        return float(text)
    except ValueError:
        reason = f"{text.strip()!r} in {where} is not a number"
        raise StatedError(reason, "Write numbers with a point, without a unit: 24.5") from None


def _whole_number(text: str, where: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise StatedError(f"{text!r} in {where} is not a number of eggs", "Write a whole number, or leave it out.")
    return int(text)
