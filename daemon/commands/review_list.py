"""Incidents as lines of a terminal. Pure."""

from collections.abc import Collection, Sequence
from datetime import tzinfo

from config.model import ROOM
from config.places import Places
from daemon.alarms.figures import duration_text
from daemon.review.account_summary import TITLES
from daemon.review.telling import Telling, listed
from daemon.review.values import Incident


def list_lines(found: Sequence[Incident], waiting: Collection[int], places: Places, zone: tzinfo) -> list[str]:
    """Give one line for each: number, when, how long, cause, where, and whether a review is due."""
    telling = Telling(zone)
    width = max((len(str(each.incident_id)) for each in found), default=1)
    return [_line(each, each.incident_id in waiting, places, telling, width) for each in found]


def _line(incident: Incident, waits: bool, places: Places, telling: Telling, width: int) -> str:
    span = incident.span
    lasted = "not over" if span.to_ms is None else duration_text(span.to_ms - span.from_ms)
    where = (
        listed([places.name(each) if places.exists(each) or each == ROOM else each for each in incident.places])
        or "whole site"
    )
    due = "  REVIEW DUE" if waits else ""
    number = str(incident.incident_id).rjust(width)
    return f"{number}  {telling.dated(span.from_ms)}  {lasted}  {TITLES[incident.cause]}  {where}{due}"
