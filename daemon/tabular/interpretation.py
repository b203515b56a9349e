"""How a table was read, in words: every interpretation, and whether it was given or found out. Pure."""

from daemon.tabular.layout import DECIMALS, DELIMITERS, Layout, Wanted
from daemon.tabular.record import Manner, Told

_MS_PER_MINUTE = 60_000


def read_as(manner: Manner, wanted: Wanted, told: Told, text_is: str, zone_origin: str) -> dict[str, str]:
    """What was understood of text, layout and times.

    `text_is` names the encoding, `zone_origin` says where the zone of the clock is from.
    """
    layout = manner.layout
    columns = " and ".join(layout.name(column) for column in layout.time_columns)
    return {
        "text": text_is,
        "header": _header(layout),
        "delimiter": f"{DELIMITERS.get(layout.delimiter, layout.delimiter)} ({_origin(wanted.delimiter)})",
        "decimal sign": f"{DECIMALS[layout.decimal]} ({_origin(wanted.decimal)})",
        "time": f"column {columns}: {manner.time_format.words} ({manner.time_format_why})",
        "time zone": _zone(manner, told, zone_origin),
    }


def left_out(told: Told) -> str:
    """What of the table was passed over."""
    counts = (
        (sum(column.without_reading for column in told.columns), "row", "rows", " without a reading"),
        (sum(column.repeated for column in told.columns), "row", "rows", " said twice"),
        (told.comments, "comment or blank line", "comments and blank lines", ""),
    )
    said = (f"{count} {one if count == 1 else many}{what}" for count, one, many, what in counts if count)
    return ", ".join(said) or "nothing"


def _origin(given: str | None) -> str:
    return "found" if given is None else "given"


def _header(layout: Layout) -> str:
    data = f"data from line {layout.first_data_line}"
    if layout.header_line is None:
        return f"none; {data}"
    before = layout.header_line - 1
    passed = layout.first_data_line - layout.header_line - 1
    above = f" ({before} before it passed over)" if before else ""
    below = f" ({passed} between passed over)" if passed else ""
    return f"line {layout.header_line}{above}; {data}{below}"


def _zone(manner: Manner, told: Told, origin: str) -> str:
    offsets_ms, zone = sorted(told.zone.written_offsets_ms), manner.zone
    if offsets_ms:
        unused = "; --time-zone is not used" if zone is not None and origin == "given" else ""
        return f"as each time says: {', '.join(map(_offset, offsets_ms))}{unused}"
    if zone is not None:
        return f"{zone.key} ({origin})"
    return "none stated: a clock that is never changed; where it follows summer time, give --time-zone"


def _offset(offset_ms: int) -> str:
    hours, minutes = divmod(abs(offset_ms) // _MS_PER_MINUTE, 60)
    return f"UTC{'-' if offset_ms < 0 else '+'}{hours:02}:{minutes:02}" if offset_ms else "UTC"
