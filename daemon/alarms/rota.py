"""Whether a rota leaves a stretch of time in which nobody can be reached. Pure.

A rota with such a window is refused with the window named. One with nobody to follow when the first does not answer is
told of, and goes through.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, tzinfo
from itertools import pairwise

from config.errors import StatedError
from daemon.alarms.people import Duty, Rota

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of time (UTC ms) and how many of those who would be called can be reached in it: 0, or 1."""

    start_ms: int
    end_ms: int
    reachable: int
    reason: str


def thin_windows(rota: Rota, from_ms: int, to_ms: int) -> tuple[Window, ...]:
    """Find the windows of [from_ms, to_ms) in which nobody, or only one person, can be reached as the rota is planned.

    A duty counts from its planned start: whether it will be accepted cannot be known before. Somebody of a duty has to
    be reachable; the standing order then counts as further people. Raises StatedError for a duty that ends before it
    begins and for a name that is not among the people.
    """
    _check_duties(rota)
    edges = {from_ms, to_ms}
    for duty in rota.duties:
        edges |= {duty.start_ms, to_ms if duty.end_ms is None else duty.end_ms}
    for absence in rota.absences:
        edges |= {absence.start_ms, absence.end_ms}
    moments = sorted(each for each in edges if from_ms <= each <= to_ms)
    found: list[Window] = []
    for start_ms, end_ms in pairwise(moments):
        count, reason = _reach(rota, start_ms)
        if count > 1:
            continue
        last = found[-1] if found else None
        if last is not None and (last.end_ms, last.reachable, last.reason) == (start_ms, count, reason):
            found[-1] = Window(last.start_ms, end_ms, count, reason)
        else:
            found.append(Window(start_ms, end_ms, count, reason))
    return tuple(found)


def check_change(before: Rota, after: Rota, from_ms: int, to_ms: int, zone: tzinfo) -> tuple[str, ...]:
    """Refuse a change that leaves a window with nobody reachable; give a warning for each that leaves one person.

    What was so before the change is no reason to refuse it: it may be a step out of that. Raises StatedError, with the
    window in local time.
    """
    before, after = (_without_lapsed(each, from_ms) for each in (before, after))
    known = thin_windows(before, from_ms, to_ms)
    return _judged([each for each in thin_windows(after, from_ms, to_ms) if not _was_so(each, known)], zone)


def _judged(windows: Sequence[Window], zone: tzinfo) -> tuple[str, ...]:
    empty = [each for each in windows if each.reachable == 0]
    if empty:
        named = "; ".join(f"{window_text(each, zone)} ({each.reason})" for each in empty)
        raise StatedError(f"nobody can be reached {named}", "Put somebody on duty there, or change the absence.")
    return tuple(f"only one person can be reached {window_text(each, zone)} ({each.reason})" for each in windows)


def window_text(window: Window, zone: tzinfo) -> str:
    """Write a window in local time: `from 3 Aug 2026 09:00 to 4 Aug 2026 18:30`."""
    return f"from {moment_text(window.start_ms, zone)} to {moment_text(window.end_ms, zone)}"


def moment_text(moment_ms: int, zone: tzinfo) -> str:
    """Write a moment in local time: `3 Aug 2026 09:00`, with the name of the zone where that time comes twice."""
    moment = datetime.fromtimestamp(moment_ms / 1000, UTC).astimezone(zone)
    text = f"{moment.day} {_MONTHS[moment.month - 1]} {moment:%Y %H:%M}"
    twice = moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset()
    return f"{text} {moment.tzname()}" if twice else text


def _reach(rota: Rota, moment_ms: int) -> tuple[int, str]:
    begun = [each for each in rota.duties if each.start_ms <= moment_ms]
    if not begun:
        return _counted(rota, rota.standing, moment_ms)
    planned = max(begun, key=lambda each: each.start_ms)
    if planned.end_ms is not None and planned.end_ms <= moment_ms:
        return 0, f"the duty of {rota.person(planned.person).name} has ended and nobody follows"
    count, reason = _counted(rota, tuple(name for name in (planned.person, planned.second) if name), moment_ms)
    if count != 1:
        return count, reason
    return _counted(rota, (planned.person, planned.second or planned.person, *rota.standing), moment_ms)


def _counted(rota: Rota, names: Sequence[str], moment_ms: int) -> tuple[int, str]:
    reached = [name for name in dict.fromkeys(names) if rota.can_be_reached(name, moment_ms)]
    if reached:
        return len(reached), rota.person(reached[0]).name
    asked = ", ".join(rota.person(name).name for name in names) or "nobody is named"
    return 0, f"absent or without a usable contact: {asked}"


def _check_duties(rota: Rota) -> None:
    for duty in rota.duties:
        if duty.end_ms is not None and duty.end_ms <= duty.start_ms:
            raise StatedError(f"the duty of {_who(rota, duty)} ends before it begins", "Give an end after the start.")
    for absence in rota.absences:
        if absence.end_ms <= absence.start_ms:
            name = rota.person(absence.person).name
            raise StatedError(f"the absence of {name} ends before it begins", "Give an end after the start.")
    for name in (*rota.standing, *rota.emergency, *(each.second for each in rota.duties if each.second)):
        rota.person(name)


def _without_lapsed(rota: Rota, now_ms: int) -> Rota:
    """Leave out what was over before anybody accepted it: calls never went by it, so it leaves no gap behind."""
    lapsed = (each.accepted_ms is None and each.end_ms is not None and each.end_ms <= now_ms for each in rota.duties)
    return replace(rota, duties=tuple(each for each, is_so in zip(rota.duties, lapsed, strict=True) if not is_so))


def _was_so(window: Window, known: Sequence[Window]) -> bool:
    """Tell whether no moment of a window had more people before."""
    covered_ms = window.start_ms
    for each in known:
        if each.reachable <= window.reachable and each.start_ms <= covered_ms < each.end_ms:
            covered_ms = each.end_ms
    return covered_ms >= window.end_ms


def _who(rota: Rota, duty: Duty) -> str:
    return rota.person(duty.person).name
