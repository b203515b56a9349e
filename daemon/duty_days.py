"""Who is called first on each of the next days, as the rota stands now. Pure. Times are UTC ms."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import pairwise

from daemon.alarms.people import Rota, on_duty

DAYS_AHEAD = 14


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a day in which nothing changes. Names; `first` is empty where nobody can be called.

    `planned` is who was to have taken over and has not accepted, empty where there is nobody.
    """

    start_ms: int
    end_ms: int
    first: str
    second: str
    planned: str
    away: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DutyDay:
    """One day of the site; its stretches follow each other."""

    day: date
    stretches: tuple[Stretch, ...]


def days_ahead(rota: Rota, now_ms: int, zone: tzinfo, count: int = DAYS_AHEAD) -> tuple[DutyDay, ...]:
    """Give today from now on, and the days after it.

    A duty counts once it is accepted, as calls do: what nobody has accepted yet is told as planned.
    """
    today = datetime.fromtimestamp(now_ms / 1000, UTC).astimezone(zone).date()
    edges = _edges(rota)
    found = []
    for ahead in range(count):
        day = today + timedelta(days=ahead)
        start_ms, end_ms = max(now_ms, _midnight_ms(day, zone)), _midnight_ms(day + timedelta(days=1), zone)
        inside = [each for each in edges if start_ms < each < end_ms]
        stretches = [_stretch(rota, *each) for each in pairwise([start_ms, *inside, end_ms])]
        found.append(DutyDay(day, _joined(stretches)))
    return tuple(found)


def _edges(rota: Rota) -> list[int]:
    spans = [(each.start_ms, each.end_ms) for each in rota.duties]
    spans += [(each.start_ms, each.end_ms) for each in rota.absences]
    return sorted({moment for span in spans for moment in span if moment is not None})


def _stretch(rota: Rota, start_ms: int, end_ms: int) -> Stretch:
    called = on_duty(rota, start_ms)
    names = [person.name for person in called.order[:2]]
    waits = called.waits_for
    away = [each.person for each in rota.absences if each.start_ms <= start_ms < each.end_ms]
    return Stretch(
        start_ms,
        end_ms,
        names[0] if names else "",
        names[1] if len(names) > 1 else "",
        "" if waits is None else rota.person(waits.person).name,
        tuple(rota.person(each).name for each in dict.fromkeys(away)),
    )


def _joined(stretches: list[Stretch]) -> tuple[Stretch, ...]:
    """Stretches between which nothing changes are one."""
    found: list[Stretch] = []
    for each in stretches:
        last = found[-1] if found else None
        if last is not None and _told(last) == _told(each):
            found[-1] = Stretch(last.start_ms, each.end_ms, *_told(last))
        else:
            found.append(each)
    return tuple(found)


def _told(each: Stretch) -> tuple[str, str, str, tuple[str, ...]]:
    return each.first, each.second, each.planned, each.away


def _midnight_ms(day: date, zone: tzinfo) -> int:
    return round(datetime(day.year, day.month, day.day, tzinfo=zone).timestamp() * 1000)
