"""No remembered moment of the alarm desk lies ahead of now. Pure. Times are UTC ms.

A clock that was ahead leaves stamps of times that have not come. Left alone they would hold calls up until then: the
next rung counts from the last one, the gathering of a minute from the last call. What begun or was told last in the
future is taken to have done so now. An end may lie ahead, yet not further than it did from its own beginning.
"""

from dataclasses import replace

from daemon.alarm_desk import Desk
from daemon.alarm_desk_values import Entry
from daemon.alarms.incident import IncidentBook
from daemon.alarms.ladder import LadderState, shifted
from daemon.alarms.state_values import AlarmState, DesignSuppression, OutOfService, Shelf


def hold(desk: Desk, now_ms: int) -> None:
    """Bring every stamp of a desk that is ahead of now back to it; what is not ahead stays as it is."""
    desk.entries = {key: entry_at_latest(entry, now_ms) for key, entry in desk.entries.items()}
    desk.ladders = {name: ladder_at_latest(each, now_ms) for name, each in desk.ladders.items()}
    desk.book = book_at_latest(desk.book, now_ms)


def ladder_at_latest(ladder: LadderState, now_ms: int) -> LadderState:
    """Move a ladder that is ahead as a whole, so that it goes on from the rung at which it was."""
    newest_ms = ladder.started_ms if ladder.last_told_ms is None else max(ladder.started_ms, ladder.last_told_ms)
    return ladder if newest_ms <= now_ms else shifted(ladder, now_ms - newest_ms)


def book_at_latest(book: IncidentBook, now_ms: int) -> IncidentBook:
    """Let no incident have been opened, and nobody called, after now."""
    return replace(
        book,
        incidents=tuple(replace(each, opened_ms=min(each.opened_ms, now_ms)) for each in book.incidents),
        called_ms=_at_latest(book.called_ms, now_ms),
        called_critical_ms=_at_latest(book.called_critical_ms, now_ms),
        opened=tuple(min(each, now_ms) for each in book.opened),
    )


def entry_at_latest(entry: Entry, now_ms: int) -> Entry:
    """Let an alarm have begun by now, and come again as soon after it as its class says at the latest."""
    raised = entry.raised
    if max(raised.at_ms, raised.since_ms) > now_ms:
        raised = replace(raised, at_ms=min(raised.at_ms, now_ms), since_ms=min(raised.since_ms, now_ms))
    return Entry(_state_at_latest(entry.state, now_ms, now_ms + entry.alarm.realarm_ms), raised)


def _state_at_latest(state: AlarmState, now_ms: int, realarm_ms: int) -> AlarmState:
    return replace(
        state,
        since_ms=_at_latest(state.since_ms, now_ms),
        returned_ms=_at_latest(state.returned_ms, now_ms),
        realarm_ms=_at_latest(state.realarm_ms, realarm_ms),
        shelf_ended_ms=_at_latest(state.shelf_ended_ms, now_ms),
        shelf=None if state.shelf is None else _shelf(state.shelf, now_ms),
        design=tuple(_design(each, now_ms) for each in state.design),
        out=None if state.out is None else _out(state.out, now_ms),
    )


def _shelf(shelf: Shelf, now_ms: int) -> Shelf:
    ahead_ms = shelf.started_ms - now_ms
    return shelf if ahead_ms <= 0 else replace(shelf, started_ms=now_ms, until_ms=shelf.until_ms - ahead_ms)


def _design(held: DesignSuppression, now_ms: int) -> DesignSuppression:
    settled_ms = _at_latest(held.settling_until_ms, now_ms + held.settle_ms)
    ahead_ms = max(held.since_ms - now_ms, 0)
    return replace(
        held, since_ms=held.since_ms - ahead_ms, hard_end_ms=held.hard_end_ms - ahead_ms, settling_until_ms=settled_ms
    )


def _out(out: OutOfService, now_ms: int) -> OutOfService:
    ahead_ms = max(out.since_ms - now_ms, 0)
    return replace(
        out, since_ms=out.since_ms - ahead_ms, review_ms=out.review_ms - ahead_ms, remind_ms=out.remind_ms - ahead_ms
    )


def _at_latest(moment_ms: int | None, latest_ms: int) -> int | None:
    return None if moment_ms is None else min(moment_ms, latest_ms)
