"""The page of all incidents, by day, and what the first page says of those that wait. Pure."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from daemon.alarms.figures import duration_text
from daemon.clutch_record_values import Stay
from daemon.review.account_summary import TITLES
from daemon.review.telling import Telling, listed
from daemon.review.values import FactKind, Incident
from dashboards import figures
from dashboards.review_paths import incident_path, older_path
from dashboards.standing import Mark, Shape, Tone

GOES_ON = Mark(Shape.RISING, "goes on", Tone.HIGH)
TO_REVIEW = Mark(Shape.CAUTION, "to review", Tone.HIGH)
REVIEWED = Mark(Shape.EGG, "reviewed", Tone.WELL)
NOT_ASKED = Mark(Shape.RING, "no review asked", Tone.PLAIN)
TOLD_FOR_MS = 14 * 86_400_000
"""For so long the first page reminds of a review; the list does it for ever. Project choice."""
_EVENING_HOUR, _MORNING_HOUR = 18, 8
_WHOLE_SITE = frozenset(
    {
        FactKind.SITE_GAP,
        FactKind.BROKER_LOST,
        FactKind.SERVICE_STOPPED,
        FactKind.SERVICE_CUT_OFF,
        FactKind.MACHINE_RESTARTED,
        FactKind.MACHINE_SLEPT,
        FactKind.CLOCK_STEP,
    }
)


class ListSite(NamedTuple):
    """What the list has to know of the site. `names`: its places by their ids."""

    name: str
    time_zone: str
    names: dict[str, str]


@dataclass(frozen=True, slots=True)
class IncidentLine:
    """One incident: `path` leads to its account, `why` says why it has to be reviewed, empty where nothing asks."""

    key: str
    path: str
    mark: Mark
    title: str
    when: str
    where: str
    why: str


@dataclass(frozen=True, slots=True)
class DayView:
    """The incidents that began on one day, the last first."""

    key: str
    heading: str
    lines: tuple[IncidentLine, ...]


@dataclass(frozen=True, slots=True)
class IncidentsView:
    """The whole page. `older` is the address of those before, empty where there are none."""

    site_name: str
    clock: str
    zone: str
    heading: str
    mark: Mark
    days: tuple[DayView, ...]
    older: str
    since: str
    until: str


@dataclass(frozen=True, slots=True)
class ReviewDue:
    """What the first page says of reviews that wait, and where to go."""

    text: str
    path: str


def incidents_view(
    found: Sequence[Incident], waiting: Collection[int], site: ListSite, limit: int, now_ms: int
) -> IncidentsView:
    """Make the page of one incident more than are shown, the newest number first; `waiting` for a review are these."""
    zone = ZoneInfo(site.time_zone)
    shown, count = found[:limit], len(waiting)
    days: dict[str, list[IncidentLine]] = {}
    for each in sorted(shown, key=lambda one: (-one.span.from_ms, -one.incident_id)):
        day = f"{figures.local(each.span.from_ms, zone):%Y-%m-%d}"
        days.setdefault(day, []).append(_line(each, waiting, site, zone, now_ms))
    first = {f"{figures.local(each.span.from_ms, zone):%Y-%m-%d}": each.span.from_ms for each in shown}
    heading = f"{count} incident{'s wait' if count > 1 else ' waits'} for a review" if count else "No review waits"
    return IncidentsView(
        site_name=site.name,
        clock=figures.moment_text(figures.local(now_ms, zone)),
        zone=site.time_zone,
        heading=heading,
        mark=TO_REVIEW if count else Mark(Shape.EGG, "none waits", Tone.WELL),
        days=tuple(DayView(f"day-{day}", _day(first[day], now_ms, zone), tuple(lines)) for day, lines in days.items()),
        older=older_path(min(each.incident_id for each in shown)) if len(found) > limit else "",
        since=f"{figures.local(now_ms - 86_400_000, zone):%Y-%m-%dT%H:%M}",
        until=f"{figures.local(now_ms, zone):%Y-%m-%dT%H:%M}",
    )


def standing_of(incident: Incident, *, waits: bool) -> Mark:
    """Say how far an incident is with its review."""
    if incident.span.to_ms is None:
        return GOES_ON
    if waits:
        return TO_REVIEW
    return REVIEWED if incident.needs_review else NOT_ASKED


def where_text(incident: Incident, names: dict[str, str]) -> str:
    """Say where it was: the places, and the whole site where it was about that."""
    places = [names.get(place, place) for place in incident.places]
    return "the whole site" if is_of_site(incident) else listed(places)


def parts_of(
    stays: Sequence[Stay], found: Sequence[Incident], waiting: Collection[int], site: ListSite, now_ms: int
) -> tuple[IncidentLine, ...]:
    """Give the incidents that asked for a review and that a clutch was part of, the last first."""
    mine = [each for each in found if each.needs_review and any(_touches(each, stay, now_ms) for stay in stays)]
    zone = ZoneInfo(site.time_zone)
    return tuple(
        _line(each, waiting, site, zone, now_ms, dated=True) for each in sorted(mine, key=lambda one: -one.span.from_ms)
    )


def _touches(incident: Incident, stay: Stay, now_ms: int) -> bool:
    """Tell whether an incident was about a place while a clutch lay there: about it, what is around it, or the site."""
    end_ms = now_ms if stay.end_ms is None else stay.end_ms
    if incident.span.from_ms >= end_ms or incident.span.until(now_ms) <= stay.from_ms:
        return False
    around = [stay.place.rsplit("/", steps)[0] for steps in range(stay.place.count("/") + 1)]
    return is_of_site(incident) or any(place in around for place in incident.places)


def is_of_site(incident: Incident) -> bool:
    """Tell whether an incident was about the whole site."""
    is_mains = any(fact.kind is FactKind.MAINS_ABSENT and not fact.place for fact in incident.facts)
    return is_mains or not incident.places or any(fact.kind in _WHOLE_SITE for fact in incident.facts)


def due_of(waiting: Sequence[Incident], now_ms: int, zone: ZoneInfo) -> ReviewDue | None:
    """Remind of the reviews that wait, of incidents that are over and not long ago; None where there are none."""
    over = [each for each in waiting if each.span.to_ms is not None and now_ms - each.span.to_ms <= TOLD_FOR_MS]
    if not over:
        return None
    newest = max(over, key=lambda each: each.span.from_ms)
    when = _of_when(newest.span.from_ms, now_ms, zone)
    if len(over) == 1:
        return ReviewDue(f"An incident {when} waits for your review", incident_path(newest.incident_id))
    return ReviewDue(f"{len(over)} incidents wait for your review, the newest {when}", "/incidents")


def _of_when(at_ms: int, now_ms: int, zone: ZoneInfo) -> str:
    began, now = figures.local(at_ms, zone), figures.local(now_ms, zone)
    evening = (now - timedelta(days=1)).date()
    is_night = (began.date() == evening and began.hour >= _EVENING_HOUR) or (
        began.date() == now.date() and began.hour < _MORNING_HOUR and now.hour >= began.hour
    )
    if is_night:
        return "of last night"
    if began.date() == now.date():
        return "of today"
    return "of yesterday" if began.date() == evening else f"of {figures.date_text(began)}"


def _line(
    incident: Incident,
    waiting: Collection[int],
    site: ListSite,
    zone: ZoneInfo,
    now_ms: int,
    *,
    dated: bool = False,
) -> IncidentLine:
    span, telling = incident.span, Telling(zone)
    began = figures.local(span.from_ms, zone)
    lasted = duration_text(span.until(now_ms) - span.from_ms)
    when = f"since {began:%H:%M}, {lasted} so far"
    if span.to_ms is not None:
        when = f"{began:%H:%M} to {telling.until(span.to_ms, span.from_ms)}, {lasted}"
    waits = incident.incident_id in waiting
    return IncidentLine(
        key=f"incident-{incident.incident_id}",
        path=incident_path(incident.incident_id),
        mark=standing_of(incident, waits=waits),
        title=TITLES[incident.cause],
        when=f"{figures.full_date_text(began)}, {when}" if dated else when,
        where=where_text(incident, site.names),
        why=incident.review if waits else "",
    )


def _day(at_ms: int, now_ms: int, zone: ZoneInfo) -> str:
    day, now = figures.local(at_ms, zone), figures.local(now_ms, zone)
    name = f"{day:%A} {figures.full_date_text(day)}"
    if day.date() == now.date():
        return f"Today, {name}"
    return f"Yesterday, {name}" if day.date() == (now - timedelta(days=1)).date() else name
