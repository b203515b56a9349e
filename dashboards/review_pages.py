"""What the pages of incidents and accounts stand before: the desks, the readings, and the reviews that wait."""

from typing import Protocol
from zoneinfo import ZoneInfo

from config.model import ROOM
from config.places import Places
from config.site import Site
from daemon.chart_reader import ChartReader
from daemon.clutch_record_values import ClutchRecord
from daemon.review.account import Review
from daemon.review.values import Incident
from daemon.review_desk import ReviewDesk
from daemon.review_incidents import IncidentDesk, Reviewed
from dashboards.review_list_view import IncidentLine, ListSite, ReviewDue, due_of, parts_of
from dashboards.source import Source

_WAITING_KEPT_S = 10.0
"""The first page asks for them each second; a new incident is found every few minutes at the most."""


class Writing(Protocol):
    """Where accounts come from."""

    def review(self, since_ms: int, until_ms: int) -> Review:
        """That of a period of one's own. Raises StatedError."""

    def review_of(self, number: int) -> Review:
        """That of an incident. Raises UnknownIncidentError."""


class Finding(Protocol):
    """Where incidents come from, and where notes go."""

    def incidents(self, since_ms: int, until_ms: int) -> list[Incident]:
        """Those with a moment in a span, the oldest first."""

    def newest(self, limit: int, before: int | None) -> list[Incident]:
        """Those with the highest numbers, the highest first."""

    def open_reviews(self) -> list[Incident]:
        """Those of which a review is due."""

    def note(self, number: int, who: str, field: str, text: str) -> Reviewed:
        """Write down what somebody says."""


class ReviewPages:
    """For one site. Safe to use from any thread."""

    def __init__(self, reviews: ReviewDesk, incidents: IncidentDesk, reader: ChartReader, site: Site) -> None:
        self.reviews: Writing = reviews
        self.incidents: Finding = incidents
        self.reader = reader
        self.zone = ZoneInfo(site.time_zone)
        places = Places(site)
        names = {ROOM: places.name(ROOM)} | {place: places.name(place) for place in places.all}
        self.site = ListSite(site.name, site.time_zone, names)
        self.waiting: Source[list[Incident]] = Source(incidents.open_reviews, _WAITING_KEPT_S)

    def now_ms(self) -> int:
        """The time of the site, UTC ms."""
        return self.reader.now_ms()

    def due(self) -> ReviewDue | None:
        """What the first page says of reviews that wait. Raises NothingToShowError."""
        return due_of(self.waiting(), self.now_ms(), self.zone)

    def parts_of(self, record: ClutchRecord) -> tuple[IncidentLine, ...]:
        """What a clutch was part of. Raises NothingToShowError."""
        since_ms, until_ms = record.clutch.set_up_ms, record.shown_ms
        if until_ms < since_ms:
            return ()
        found = Source(lambda: self.incidents.incidents(since_ms, until_ms))()
        waiting = frozenset(each.incident_id for each in self.waiting())
        return parts_of(record.stays, found, waiting, self.site, self.now_ms())
