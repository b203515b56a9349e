"""The page of one clutch, from its record to texts and drawings. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from config.words import Quantity
from daemon.clutch_record_values import Climate, ClutchRecord, Stay
from daemon.clutches.boxes import is_box
from daemon.overview import Overview
from dashboards import figures
from dashboards.clutch_course import climate_drawing, event_drawing
from dashboards.clutch_curve import heat_drawing
from dashboards.clutch_eggs import check_mark, eggs_text
from dashboards.clutch_history import ChangeView, EventView, change_view, event_view
from dashboards.clutch_list import NO_INCUBATOR
from dashboards.clutch_now import ClutchNowView, clutch_now_view
from dashboards.clutches import ClutchView, clutch_view
from dashboards.drawing import Drawing
from dashboards.figures import NBSP
from dashboards.register_paths import ONE_LABEL, box_path, clutch_path, sheet_path
from dashboards.rounds_box import PhotoView, photo_view

EVENTS_OPEN, PHOTOS_OPEN = 12, 6
_LEAST_TOLD_H = 0.5
_IN_DAYS_FROM_H = 72


@dataclass(frozen=True, slots=True)
class ClimateView:
    """Temperature or humidity over the time of a clutch: the drawing, and what it comes to in sentences."""

    heading: str
    drawing: Drawing | None
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StayView:
    """Where it lay, from when, until when, how long."""

    place: str
    began: str
    ended: str
    lasted: str


@dataclass(frozen=True, slots=True)
class ClutchPageView:
    """The whole page. `events` are the newest first; `older` are folded away. `facts` are pairs of name and value.

    `photos` are the newest first, `older_photos` folded away. `parts`: addresses of the pages that change it, with
    their names; `box_path`, `label_path`: those of its box, empty without one. `now` is how it is at this moment;
    None for a closed one.
    """

    site_name: str
    clock: str
    zone: str
    clutch: ClutchView
    is_closed: bool
    facts: tuple[tuple[str, str], ...]
    note: str
    curve: Drawing | None
    climates: tuple[ClimateView, ...]
    strip: Drawing
    events: tuple[EventView, ...]
    older: tuple[EventView, ...]
    left_out: str
    stays: tuple[StayView, ...]
    changes: tuple[ChangeView, ...]
    venomous: bool = False
    protected: str = ""
    parts: tuple[tuple[str, str], ...] = ()
    box_path: str = ""
    label_path: str = ""
    photos: tuple[PhotoView, ...] = ()
    older_photos: tuple[PhotoView, ...] = ()
    now: ClutchNowView | None = None


def clutch_page_view(record: ClutchRecord, overview: Overview | None = None) -> ClutchPageView:
    """Everything on the page of a clutch at one moment. `overview` says how it is now; None where that is not asked."""
    zone = ZoneInfo(record.time_zone)
    view = clutch_view(record.clutch, NO_INCUBATOR, record.shown_ms, zone, fahrenheit=record.fahrenheit)
    events = [event_view(each, zone) for each in reversed(record.events)]
    left_out = record.alarms_left_out
    photos = [photo_view(each, zone) for each in reversed(record.photos)]
    return ClutchPageView(
        site_name=record.site_name,
        clock=figures.moment_text(figures.local(record.now_ms, zone)),
        zone=record.time_zone,
        clutch=replace(view, place=record.place_name),
        is_closed=record.closed_at_ms is not None,
        facts=tuple(_facts(record, zone)),
        note=record.note,
        curve=heat_drawing(record, zone),
        climates=tuple(_climate(each, record, zone) for each in (record.temperature, record.humidity)),
        strip=event_drawing(record, zone),
        events=tuple(events[:EVENTS_OPEN]),
        older=tuple(events[EVENTS_OPEN:]),
        left_out=f"{left_out} older alarms are not listed here." if left_out else "",
        stays=tuple(_stay(stay, record, zone) for stay in record.stays),
        changes=tuple(change_view(each, zone, fahrenheit=record.fahrenheit) for each in reversed(record.changes)),
        venomous=record.also.venomous,
        protected=record.also.protected,
        parts=tuple(_parts(record)),
        box_path=_box_path(record),
        label_path=sheet_path([record.clutch.place], ONE_LABEL) if _box_path(record) else "",
        photos=tuple(photos[:PHOTOS_OPEN]),
        older_photos=tuple(photos[PHOTOS_OPEN:]),
        now=None if overview is None else clutch_now_view(record, overview),
    )


def _parts(record: ClutchRecord) -> Iterator[tuple[str, str]]:
    names = {"eggs": "Eggs", "notes": "Notes", "sizes": "Sizes", "move": "Move", "edit": "Correct", "close": "Close"}
    if record.closed_at_ms is not None:
        names = {"eggs": "Eggs", "notes": "Notes", "sizes": "Sizes", "edit": "Correct", "reopen": "Open again"}
    for what, name in {**names, "withdraw": "Entered by mistake"}.items():
        yield clutch_path(record.clutch.clutch_id, what), name


def _box_path(record: ClutchRecord) -> str:
    is_there = record.closed_at_ms is None and is_box(record.clutch.place)
    return box_path(record.clutch.place) if is_there else ""


def _facts(record: ClutchRecord, zone: ZoneInfo) -> Iterator[tuple[str, str]]:
    clutch = record.clutch
    laid = [figures.full_date_text(figures.local(each, zone)) for each in (clutch.laid_from_ms, clutch.laid_to_ms)]
    yield "Laid", laid[0] if laid[0] == laid[1] else f"{laid[0]} to {laid[1]}"
    yield "Set up", figures.moment_text(figures.local(clutch.set_up_ms, zone))
    if record.closed_at_ms is not None:
        yield "Closed", figures.moment_text(figures.local(record.closed_at_ms, zone))
    yield "Eggs", _eggs(record)
    check = check_mark(record.told, record.now_ms, zone)
    if check is not None:
        yield "Round", check.word
    if record.also.found_ms is not None:
        yield "Found", figures.moment_text(figures.local(record.also.found_ms, zone))
    stated = (("Population", record.population or ""), ("Dam", record.also.dam), ("Sire", record.also.sire))
    yield from ((name, value) for name, value in stated if value)
    if record.also.tags:
        yield "Tags", ", ".join(record.also.tags)
    limits = record.limits
    if limits.low_c is not None and limits.high_c is not None:
        yield "Temperature", _between(limits.low_c, limits.high_c, Quantity.AIR_TEMPERATURE, record.fahrenheit)
    lethal = [each for each in (limits.lethal_low_c, limits.lethal_high_c) if each is not None]
    if lethal:
        yield "Lethal", " and ".join(str(figures.temperature(each, record.fahrenheit)) for each in lethal)
    if limits.humidity_low_pct is not None and limits.humidity_high_pct is not None:
        low, high = limits.humidity_low_pct, limits.humidity_high_pct
        yield "Humidity", _between(low, high, Quantity.RELATIVE_HUMIDITY, record.fahrenheit)


def _eggs(record: ClutchRecord) -> str:
    """How many were set up, and what they are now or were in the end."""
    set_up = f"{record.clutch.egg_count} set up"
    if record.told.eggs is None:
        return set_up
    return f"{set_up}; {'now' if record.closed_at_ms is None else 'in the end'} {eggs_text(record.told.eggs)}"


def _between(low: float, high: float, quantity: Quantity, fahrenheit: bool) -> str:
    first, last = (figures.quantity_value(quantity, each, fahrenheit) for each in (low, high))
    return f"{first.number} to {last}"


def _climate(climate: Climate, record: ClutchRecord, zone: ZoneInfo) -> ClimateView:
    heading = "Air temperature" if climate.quantity.is_temperature else "Humidity"
    drawing = climate_drawing(climate, record, zone)
    lines = tuple(_climate_lines(climate, record.fahrenheit)) if drawing else (climate.why_empty,)
    return ClimateView(heading, drawing, lines)


def _climate_lines(climate: Climate, fahrenheit: bool) -> Iterator[str]:
    of, cells = climate.quantity, climate.cells
    span_ms = sum(cell.end_ms - cell.start_ms for cell in cells)
    mean = sum(cell.mean * (cell.end_ms - cell.start_ms) for cell in cells) / max(span_ms, 1)
    least, middle, most = (
        figures.quantity_value(of, each, fahrenheit)
        for each in (min(cell.least for cell in cells), mean, max(cell.most for cell in cells))
    )
    yield f"Least {least}, mean {middle}, most {most}, by probe {', '.join(climate.probes)}."
    limited = any(span.low is not None or span.high is not None for span in climate.limits)
    if not limited:
        why = "measured outside the box" if not of.is_temperature else "no limits are known for this species"
        yield f"Held against no limits: {why}."
    else:
        words = ("too cool", "too warm") if of.is_temperature else ("too dry", "too humid")
        told = [
            f"{hours_text(hours)} {word}"
            for hours, word in ((climate.hours_below, words[0]), (climate.hours_above, words[1]))
            if hours >= _LEAST_TOLD_H / 3
        ]
        yield f"Outside the limits of the time: {' and '.join(told) if told else 'less than 10 minutes'}."
    if climate.hours_unread >= _LEAST_TOLD_H:
        yield f"{hours_text(climate.hours_unread)} without good readings: nothing is known of that time."
    if climate.is_behind:
        yield "Readings wait to be worked in: some may be missing here for a minute."


def hours_text(hours: float) -> str:
    """Write hours of exposure: in days where there are many."""
    if hours >= _IN_DAYS_FROM_H:
        return f"{hours / 24:.1f}{NBSP}days"
    return f"{figures.number(hours)}{NBSP}h"


def _stay(stay: Stay, record: ClutchRecord, zone: ZoneInfo) -> StayView:
    began = figures.moment_text(figures.local(stay.from_ms, zone))
    ended = "" if stay.end_ms is None else figures.moment_text(figures.local(stay.end_ms, zone))
    end_ms = record.shown_ms if stay.end_ms is None else stay.end_ms
    return StayView(stay.name, began, ended or "still there", figures.duration(max(0, end_ms - stay.from_ms) // 1000))
