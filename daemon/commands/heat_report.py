"""What `clutchwarden heat` says: the sum, and how the table was read."""

from dataclasses import dataclass
from datetime import UTC, tzinfo

from daemon.clock import as_datetime
from daemon.development.degree_hours import Heat
from daemon.tabular.layout import DECIMALS, DELIMITERS, Wanted
from daemon.tabular.record import Manner, Told

_MS_PER_HOUR, _MS_PER_MINUTE = 3_600_000, 60_000


@dataclass(frozen=True, slots=True)
class Result:
    """A record's heat, and everything that was understood on the way."""

    file: str
    between_readings: Heat
    told: Told
    manner: Manner
    wanted: Wanted
    text_is: str
    zero_c: float
    cap_c: float | None
    bridge_ms: int

    @property
    def heat(self) -> Heat:
        """Over the whole table: rows without a reading before the first and after the last are missing time too."""
        whole_ms = self.told.last_ms - self.told.first_ms
        found = self.between_readings
        return Heat(found.degree_hours_ch, found.covered_ms, whole_ms - found.covered_ms)


def as_dict(result: Result) -> dict[str, object]:
    """For programs."""
    told, heat = result.told, result.heat
    return {
        "degree_hours_ch": heat.degree_hours_ch,
        "hours_covered": heat.covered_h,
        "hours_missing": heat.missing_h,
        "zero_c": result.zero_c,
        "cap_c": result.cap_c,
        "longest_gap_min": result.bridge_ms / _MS_PER_MINUTE,
        "readings": told.readings,
        "rows_without_reading": told.without_reading,
        "rows_repeated": told.repeated,
        "first": _utc(told.first_ms),
        "last": _utc(told.last_ms),
        "coldest_c": told.coldest_c,
        "warmest_c": told.warmest_c,
        "read_as": read_as(result),
        "told": told.zone.turns,
    }


def as_text(result: Result) -> str:
    """For people."""
    heat, told = result.heat, result.told
    cap = "without a cap" if result.cap_c is None else f"capped at {result.cap_c:g} °C"
    lines = [f"{heat.degree_hours_ch:.2f} °C·h above {result.zero_c:g} °C, {cap}"]
    lines.append(f"{heat.covered_h:.2f} h covered, {heat.missing_h:.2f} h missing")
    if heat.missing_ms and result.cap_c is not None:
        most = heat.missing_h * (result.cap_c - result.zero_c)
        lines.append(f"The missing hours may hold anything from nothing to {most:.2f} °C·h more.")
    lines.append("read as:")
    lines += [f"  {key:<13}{value}" for key, value in read_as(result).items()]
    lines += [f"  {sentence}" for sentence in told.zone.turns]
    return "\n".join(lines)


def read_as(result: Result) -> dict[str, str]:
    """Every interpretation, and whether it was given or found out."""
    layout, manner, told, wanted = result.manner.layout, result.manner, result.told, result.wanted
    columns = " and ".join(layout.name(column) for column in layout.time_columns)
    return {
        "text": result.text_is,
        "header": _header(result),
        "delimiter": f"{DELIMITERS.get(layout.delimiter, layout.delimiter)} ({_origin(wanted.delimiter)})",
        "decimal sign": f"{DECIMALS[layout.decimal]} ({_origin(wanted.decimal)})",
        "time": f"column {columns}: {manner.time_format.words} ({manner.time_format_why})",
        "time zone": _zone(result),
        "temperature": f"column {layout.name(layout.temperature_column)}: °{manner.unit}",
        "readings": f"{told.readings}, {told.coldest_c:.1f} to {told.warmest_c:.1f} °C",
        "from, to": f"{_local(told.first_ms, result)}, {_local(told.last_ms, result)}",
        "left out": _left_out(told),
        "gaps": f"straight lines over up to {result.bridge_ms / _MS_PER_MINUTE:g} min; what is longer is missing",
    }


def _origin(given: str | None) -> str:
    return "found" if given is None else "given"


def _header(result: Result) -> str:
    layout = result.manner.layout
    data = f"data from line {layout.first_data_line}"
    if layout.header_line is None:
        return f"none; {data}"
    before = layout.header_line - 1
    passed = layout.first_data_line - layout.header_line - 1
    above = f" ({before} before it passed over)" if before else ""
    below = f" ({passed} between passed over)" if passed else ""
    return f"line {layout.header_line}{above}; {data}{below}"


def _zone(result: Result) -> str:
    offsets_ms, zone = sorted(result.told.zone.written_offsets_ms), result.manner.zone
    if offsets_ms:
        unused = "" if zone is None else "; --time-zone is not used"
        return f"as each time says: {', '.join(map(_offset, offsets_ms))}{unused}"
    if zone is not None:
        return f"{zone.key} (given)"
    return "none stated: a clock that is never changed; where it follows summer time, give --time-zone"


def _left_out(told: Told) -> str:
    parts = (
        (told.without_reading, "rows without a reading"),
        (told.repeated, "rows said twice"),
        (told.comments, "comments and blank lines"),
    )
    return ", ".join(f"{count} {what}" for count, what in parts if count) or "nothing"


def _offset(offset_ms: int) -> str:
    hours, minutes = divmod(abs(offset_ms) // _MS_PER_MINUTE, 60)
    return f"UTC{'-' if offset_ms < 0 else '+'}{hours:02}:{minutes:02}" if offset_ms else "UTC"


def _utc(moment_ms: int) -> str:
    return as_datetime(moment_ms).isoformat()


def _local(moment_ms: int, result: Result) -> str:
    zone: tzinfo = UTC
    if result.manner.zone is not None and not result.told.zone.written_offsets_ms:
        zone = result.manner.zone
    return as_datetime(moment_ms).astimezone(zone).strftime("%Y-%m-%d %H:%M:%S")
