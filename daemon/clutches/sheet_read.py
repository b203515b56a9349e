"""Pure: what a row of a table says of a clutch. All raise RegisterError with the column that cannot be read."""

from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from daemon.clutches.errors import RegisterError
from daemon.clutches.measures import NewMeasure
from daemon.clutches.sheet_cells import Row, day_end_of, moment_of, number_of, whole_of, yes_of
from daemon.clutches.values import Clutch, NewClutch

_NEEDED = ("species", "place", "laid_from", "set_up", "egg_count")
_FIELDS = {
    "species": "species_id",
    "population": "population",
    "dam": "dam",
    "sire": "sire",
    "laid_from": "laid_from_ms",
    "laid_to": "laid_to_ms",
    "found": "found_ms",
    "set_up": "set_up_ms",
    "egg_count": "egg_count",
    "kept_at_c": "before_c",
    "kept_within_k": "before_u_k",
    "tags": "tags",
    "venomous": "venomous",
    "protected": "protected",
    "note": "note",
}


def fields_of(row: Row, zone: ZoneInfo, now_ms: int) -> dict[str, Any]:
    """Read the fields of a clutch that a row says something of; an empty cell says nothing."""
    read: dict[str, Callable[[str, str], Any]] = {
        "laid_from": lambda cell, column: moment_of(cell, column, zone),
        "laid_to": lambda cell, column: min(day_end_of(cell, column, zone), now_ms),
        "found": lambda cell, column: moment_of(cell, column, zone),
        "set_up": lambda cell, column: moment_of(cell, column, zone),
        "egg_count": whole_of,
        "kept_at_c": number_of,
        "kept_within_k": number_of,
        "tags": lambda cell, _: tuple(cell.replace(",", ";").split(";")),
        "venomous": yes_of,
    }
    return {
        field: read[column](row[column], column) if column in read else row[column]
        for column, field in _FIELDS.items()
        if row[column].strip()
    }


def new_clutch(row: Row, zone: ZoneInfo, now_ms: int) -> NewClutch:
    """Read a whole clutch. Where only the day of laying is given, it was laid in the course of that day."""
    if missing := [column for column in _NEEDED if not row[column].strip()]:
        raise RegisterError(
            f"{', '.join(missing)} of a new clutch {'is' if len(missing) == 1 else 'are'} empty",
            "Fill it in; nothing can stand in for it.",
            missing[0],
        )
    found = fields_of(row, zone, now_ms)
    set_up_ms = found.pop("set_up_ms")
    found.setdefault("laid_to_ms", min(day_end_of(row["laid_from"], "laid_from", zone), now_ms))
    return NewClutch(
        **{"population": None, "note": "", **found},
        label=row["label"],
        place=row["place"].strip(),
        from_ms=set_up_ms,
    )


def differences(row: Row, clutch: Clutch, zone: ZoneInfo, now_ms: int) -> dict[str, Any]:
    """Give the fields of a clutch that a row says otherwise."""
    found = {**fields_of(row, zone, now_ms), "label": row["label"].strip()}
    return {field: value for field, value in found.items() if _kept(value) != getattr(clutch, field)}


def _kept(value: Any) -> Any:
    if isinstance(value, tuple):
        return tuple(dict.fromkeys(each.strip() for each in value if each.strip()))
    return value.strip() if isinstance(value, str) else value


def closed_ms(row: Row, zone: ZoneInfo) -> int | None:
    """Read when a clutch was closed; None where the row says nothing of it."""
    return moment_of(row["closed"], "closed", zone) if row["closed"].strip() else None


def at_ms(row: Row, zone: ZoneInfo) -> int:
    """Read when what a row tells of was seen."""
    if not row["at"].strip():
        raise RegisterError("at is empty", "Say when it was.", "at")
    return moment_of(row["at"], "at", zone)


def size(row: Row, zone: ZoneInfo) -> NewMeasure:
    """Read a size, of the clutch as long as nobody says of which egg it is."""
    return NewMeasure(
        at_ms=at_ms(row, zone),
        mass_g=number_of(row["mass_g"], "mass_g") if row["mass_g"].strip() else None,
        length_mm=number_of(row["length_mm"], "length_mm") if row["length_mm"].strip() else None,
        eggs=whole_of(row["eggs_weighed"], "eggs_weighed") if row["eggs_weighed"].strip() else 1,
        note=row["note"].strip(),
    )
