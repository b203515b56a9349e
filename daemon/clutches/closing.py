"""The end of a clutch, with what became of every egg."""

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from daemon.clutches.egg_changes import say_of_eggs
from daemon.clutches.egg_records import eggs
from daemon.clutches.egg_rules import named
from daemon.clutches.eggs import EggCounts, EggState, Reason, Stated, counts_of
from daemon.clutches.errors import RegisterError
from daemon.clutches.register import close_clutch, refuse_end_before_eggs
from daemon.clutches.rows import still_open
from daemon.clutches.values import Clutch

_COUNTED = "counted when it was closed"


@dataclass(frozen=True, slots=True)
class Closing:
    """How a clutch ended: how many eggs in all hatched, were lost and were given away; None where it is on record.

    `rest`: what became of all eggs of which nothing else is known.
    """

    at_ms: int
    hatched: int | None = None
    lost: int | None = None
    given_away: int | None = None
    rest: Stated | None = None
    why: str = ""


def close(conn: sqlite3.Connection, clutch_id: int, closing: Closing, who: str, now_ms: int) -> EggCounts:
    """End a clutch inside the caller's transaction, and give its outcome.

    Raises RegisterError where the numbers do not fit its eggs, or an egg is not accounted for.
    """
    clutch = still_open(conn, clutch_id)
    if closing.rest is not None and closing.rest.state.is_open:
        raise RegisterError(
            f"the rest of {clutch.label} cannot be {closing.rest.words} when it is closed: such eggs are still there",
            "Say what became of them: hatched, given-away or removed:infertile, for example.",
            "rest",
        )
    before = eggs(conn, clutch_id, clutch.egg_count)
    refuse_end_before_eggs(conn, clutch, closing.at_ms)
    said: list[int] = []
    for stated, count in _still_to_say(clutch, counts_of(before), closing):
        said += say_of_eggs(conn, clutch_id, stated, count, closing.at_ms, who, now_ms).events
    left = [egg for egg in eggs(conn, clutch_id, clutch.egg_count) if egg.stated.state.is_open]
    if left and closing.rest is not None:
        names = [str(egg.number) for egg in left]
        said += say_of_eggs(conn, clutch_id, closing.rest, names, closing.at_ms, who, now_ms).events
        left = [egg for egg in eggs(conn, clutch_id, clutch.egg_count) if egg.stated.state.is_open]
    if left:
        raise RegisterError(
            f"nobody has said what became of {len(left)} of the {clutch.egg_count} eggs of {clutch.label}: "
            f"{named(left)}",
            "Say it for all of them at once: --rest hatched, --rest removed:infertile, --rest given-away; or give the "
            "numbers with --hatched, --lost and --given-away.",
            "rest",
        )
    close_clutch(conn, clutch_id, closing.at_ms, who, closing.why, now_ms, said)
    return counts_of(eggs(conn, clutch_id, clutch.egg_count))


def _still_to_say(clutch: Clutch, known: EggCounts, closing: Closing) -> Iterator[tuple[Stated, int]]:
    """What the stated numbers add to what is on record."""
    parts = (
        (closing.hatched, known.hatched, Stated(EggState.HATCHED, None, _COUNTED), "hatched"),
        (closing.given_away, known.given_away, Stated(EggState.GIVEN_AWAY, None, _COUNTED), "given away"),
        (closing.lost, known.lost, Stated(EggState.REMOVED, Reason.OTHER, _COUNTED), "lost"),
    )
    total = sum(on_record if stated is None else stated for stated, on_record, _, _ in parts)
    if total > clutch.egg_count:
        words = ", ".join(f"{on_record if stated is None else stated} {word}" for stated, on_record, _, word in parts)
        raise RegisterError(
            f"{words} are {total} eggs, and {clutch.label} has {clutch.egg_count}",
            "Check the numbers. Where more eggs were laid than entered, correct that first: clutch edit --eggs",
            "hatched",
        )
    for stated, on_record, what, word in parts:
        if stated is not None and stated < on_record:
            raise RegisterError(
                f"{stated} eggs of {clutch.label} are said to be {word}, and {on_record} are on record as {word}",
                "Check the number, or take back what was said of the others.",
                word.replace(" ", "_"),
            )
        if stated is not None and stated > on_record:
            yield what, stated - on_record
