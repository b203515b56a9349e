"""What was found in the box of a clutch in each round, and what was said of its eggs, as things that happened to it."""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence

from daemon.clutch_climate import Lain
from daemon.clutch_record_values import ClutchEvent
from daemon.clutches import egg_records
from daemon.clutches.eggs import EggEvent, Stated
from daemon.clutches.register import Clutch
from daemon.rounds.state import state_of
from daemon.rounds.values import BoxState, Finding, named
from daemon.rounds.words import disagreement_lines, found_text
from daemon.storage import findings


def looks(conn: sqlite3.Connection, clutch: Clutch, lain: Sequence[Lain]) -> Iterator[ClutchEvent]:
    """Give one for each round in which somebody entered something for its box, without what was said of eggs."""
    by_round: dict[int, dict[int, Finding]] = {}
    for stay in lain:
        incubator = stay.place.split("/", 1)[0]
        for each in findings.of_clutch(conn, clutch.clutch_id, incubator, stay.from_ms, stay.end_ms):
            by_round.setdefault(each.round_number, {})[each.number] = each
    for said in by_round.values():
        entries = list(said.values())
        state = state_of(entries[-1].entry.box, entries)
        if state.at_ms:
            yield _look(state)


def _look(state: BoxState) -> ClutchEvent:
    who = named(state.who)
    if state.skipped:
        return ClutchEvent(state.at_ms, "found", f"Left out by {who}: {state.skipped}")
    found = found_text(state)
    what = f"Found by {who}: {found}" if found else f"Looked at by {who}"
    more = [*(f"{each.text} ({each.who})" for each in state.remarks), *disagreement_lines(state)]
    more += [f"Not taken: {done.seen.stated.words}, because {done.refused}" for done in state.not_taken]
    return ClutchEvent(state.at_ms, "found", what, "; ".join(more))


def eggs_said(conn: sqlite3.Connection, clutch: Clutch) -> Iterator[ClutchEvent]:
    """Give what was said of its eggs and still stands: one for all eggs of which one person said the same at once."""
    names = egg_records.marks(conn, clutch.clutch_id)
    said: dict[tuple[int, Stated, str], list[EggEvent]] = {}
    for each in egg_records.events(conn, clutch.clutch_id):
        if not each.withdrawn:
            said.setdefault((each.at_ms, each.stated, each.who), []).append(each)
    for (at_ms, stated, who), these in said.items():
        yield ClutchEvent(at_ms, "eggs", f"{_eggs(these, names)} {stated.words}, by {who}", stated.note)


def _eggs(these: Sequence[EggEvent], names: Mapping[int, str]) -> str:
    which = named([names.get(each.egg, str(each.egg)) for each in these])
    return f"Egg {which}" if len(these) == 1 else f"Eggs {which}"
