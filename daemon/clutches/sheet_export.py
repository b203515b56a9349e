"""Pure: clutches with all their eggs as rows of a table. Only what stands is written, not what was corrected."""

from collections.abc import Iterable, Iterator, Sequence
from zoneinfo import ZoneInfo

from daemon.clutches.eggs import EggEvent, EggState
from daemon.clutches.file import ClutchFile
from daemon.clutches.measures import Measure
from daemon.clutches.said_by import named_in_table
from daemon.clutches.sheet_cells import ALL_COLUMNS, COLUMNS, moment_cell, moves_cell, number_cell, written
from daemon.clutches.values import Clutch

Cells = dict[str, str]


def sheet(files: Iterable[ClutchFile], zone: ZoneInfo, with_eggs: bool) -> str:
    """Write one row for each clutch; `with_eggs` also its marks, eggs, sizes and notes, each in a row below it."""
    found: list[Cells] = []
    for each in files:
        found.append(_clutch(each.clutch, zone))
        if with_eggs:
            found += _below(each, zone)
    return written(ALL_COLUMNS if with_eggs else COLUMNS, found)


def _clutch(clutch: Clutch, zone: ZoneInfo) -> Cells:
    first, *moves = clutch.placements
    return {
        **_key("clutch", clutch, zone),
        "species": clutch.species_id,
        "population": clutch.population or "",
        "dam": clutch.dam,
        "sire": clutch.sire,
        "laid_from": moment_cell(clutch.laid_from_ms, zone),
        "laid_to": moment_cell(clutch.laid_to_ms, zone),
        "found": moment_cell(clutch.found_ms, zone),
        "place": first.place,
        "moves": moves_cell(moves, zone),
        "closed": moment_cell(clutch.closed_at_ms, zone),
        "egg_count": str(clutch.egg_count),
        "kept_at_c": number_cell(clutch.before_c),
        "kept_within_k": number_cell(clutch.before_u_k),
        "tags": "; ".join(clutch.tags),
        "venomous": "" if clutch.venomous is None else "yes" if clutch.venomous else "no",
        "protected": clutch.protected,
        "note": clutch.note,
    }


def _below(found: ClutchFile, zone: ZoneInfo) -> Iterator[Cells]:
    clutch = found.clutch
    for egg in found.eggs:
        if egg.mark:
            yield {**_key("mark", clutch, zone), "egg": str(egg.number), "note": egg.mark}
    for event in _standing(found.events):
        yield {**_key("egg", clutch, zone), **_event(event, zone)}
    for one in found.measures:
        if not one.withdrawn:
            yield {**_key("size", clutch, zone), **_size(one, zone)}
    for note in found.notes:
        yield {
            **_key("note", clutch, zone),
            "at": moment_cell(note.at_ms, zone),
            "who": named_in_table(note.who),
            "note": note.text,
        }


def _standing(events: Sequence[EggEvent]) -> list[EggEvent]:
    return sorted((one for one in events if not one.withdrawn), key=lambda one: (one.at_ms, one.number))


def _event(event: EggEvent, zone: ZoneInfo) -> Cells:
    stated = event.stated
    return {
        "at": moment_cell(event.at_ms, zone),
        "egg": str(event.egg),
        "state": f"{stated.state}:{stated.reason}" if stated.state is EggState.REMOVED else str(stated.state),
        "by_count": "yes" if event.by_count else "",
        "who": named_in_table(event.who),
        "note": stated.note,
    }


def _size(one: Measure, zone: ZoneInfo) -> Cells:
    return {
        "at": moment_cell(one.measured.at_ms, zone),
        "egg": "" if one.measured.egg is None else str(one.measured.egg),
        "mass_g": number_cell(one.measured.mass_g),
        "length_mm": number_cell(one.measured.length_mm),
        "eggs_weighed": str(one.measured.eggs),
        "who": named_in_table(one.who),
        "note": one.measured.note,
    }


def _key(kind: str, clutch: Clutch, zone: ZoneInfo) -> Cells:
    return {"row": kind, "label": clutch.label, "set_up": moment_cell(clutch.set_up_ms, zone)}
