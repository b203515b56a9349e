"""The page of calendar addresses. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.access.values import Refused
from daemon.calendar_feed import Feed
from dashboards import figures
from dashboards.access.typed import Field, FormView, answered

CALENDAR_SETUP_PATH = "/set-up/calendar"
MAKE_PATH, WITHDRAW_PATH = f"{CALENDAR_SETUP_PATH}/make", f"{CALENDAR_SETUP_PATH}/withdraw"
TOLD = (
    "Hatching windows, rounds and calibrations that are due, and duties: for any calendar program that subscribes to "
    "a calendar from the network."
)
WHO_HAS_IT = (
    "Whoever has an address may read this calendar without signing in, and nothing else. It names clutches, species "
    "and people, so treat it like a password, and take it back when a phone is lost."
)


@dataclass(frozen=True, slots=True)
class FeedRow:
    """One address that is in use."""

    name: str
    line: str


@dataclass(frozen=True, slots=True)
class CalendarView:
    """The whole page. `address` is a new one, shown this once; `said` is why what was sent was refused."""

    told: str
    secret: str
    feeds: tuple[FeedRow, ...]
    form: FormView
    address: str = ""
    name: str = ""
    said: str = ""


def calendar_view(
    feeds: Sequence[Feed],
    now_ms: int,
    zone: ZoneInfo,
    *,
    typed: str = "",
    refused: Refused | None = None,
    address: str = "",
) -> CalendarView:
    """Everything on the page. `typed` is the name that was sent."""
    name = Field("name", "Name of the address", hint="Where it is used, such as Mara's phone.")
    form = FormView("calendar", MAKE_PATH, (name,), "Make an address")
    beside = refused is not None and refused.field == "name"
    return CalendarView(
        TOLD,
        WHO_HAS_IT,
        tuple(_row(each, now_ms, zone) for each in feeds),
        answered(form, {"name": typed}, refused) if refused is not None else form,
        address,
        typed if address else "",
        "" if refused is None or beside else refused.reason,
    )


def _row(feed: Feed, now_ms: int, zone: ZoneInfo) -> FeedRow:
    today = figures.local(now_ms, zone)
    made = figures.clock_text(figures.local(feed.made_ms, zone), today)
    used = "Never read."
    if feed.seen_ms is not None:
        used = f"Last read {figures.clock_text(figures.local(feed.seen_ms, zone), today)}."
    return FeedRow(feed.name, f"Made {made} by {feed.made_by}. {used}")
