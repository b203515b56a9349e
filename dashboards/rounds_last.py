"""The last round in one line, and where a round is due: for the first page and the sheet of a hand-over. Pure."""

from collections.abc import Sequence
from typing import NamedTuple
from zoneinfo import ZoneInfo

from daemon.answer_values import AT_THE_PAGE
from daemon.rounds.last import LastRound, RoundDue
from daemon.rounds.need import eggs_text
from dashboards import figures
from dashboards.rounds_paths import ROUNDS_PATH, summary_path

LONGEST_SHOWN = 240
"""So much of a note has room where it is not the page of its round. Project choice."""
_MOST_NAMED = 2


class LastRoundView(NamedTuple):
    """The last round: when, what it came to, what was noted (may be empty), and the address of its summary."""

    when: str
    text: str
    note: str
    path: str


class DueView(NamedTuple):
    """Rounds that are due, in one sentence, and where they are begun."""

    text: str
    path: str


def last_round_view(found: LastRound | None, now_ms: int, zone: ZoneInfo) -> LastRoundView | None:
    """Put it into words; None where no round was ever ended."""
    if found is None:
        return None
    ended, now = figures.local(found.ended_ms, zone), figures.local(now_ms, zone)
    when = f"{'today ' if ended.date() == now.date() else ''}{figures.clock_text(ended, now)}"
    seen = f"{found.seen} of {found.boxes} {'box' if found.boxes == 1 else 'boxes'} seen"
    removed = f"{eggs_text(found.removed)} removed" if found.removed else "no egg removed"
    told = [seen, removed]
    if found.hatched:
        told.append(f"{eggs_text(found.hatched)} hatched")
    if found.pipped:
        told.append(f"{eggs_text(found.pipped)} pipped")
    if found.watched:
        told.append(f"{eggs_text(found.watched)} put on watch")
    if found.photos:
        told.append("1 photo" if found.photos == 1 else f"{found.photos} photos")
    where = ", ".join(found.incubators[:_MOST_NAMED])
    more = len(found.incubators) - _MOST_NAMED
    where += f" and {more} more" if more > 0 else ""
    who = "somebody at the page" if found.who == AT_THE_PAGE else found.who
    text = f"{where}, by {who}: {', '.join(told)}."
    return LastRoundView(when, text, _cut(found.note), summary_path(found.numbers))


def due_view(due: Sequence[RoundDue], now_ms: int, zone: ZoneInfo) -> DueView | None:
    """Say where a round is due, and since when; None where none is."""
    if not due:
        return None
    now = figures.local(now_ms, zone)
    parts = []
    for each in due:
        since = figures.local(each.since_ms, zone)
        parts.append(f"{each.name} since {figures.clock_text(since, now)}")
    return DueView(f"A round is due: {', '.join(parts)}.", ROUNDS_PATH)


def _cut(note: str) -> str:
    whole = " ".join(note.split())
    return whole if len(whole) <= LONGEST_SHOWN else f"{whole[: LONGEST_SHOWN - 1].rstrip()}…"
