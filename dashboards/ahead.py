"""Pages for what lies ahead: the sheet of a hand-over, calendars, and where a clutch would lie best."""

from dataclasses import dataclass

from fastapi import FastAPI

from dashboards.calendar_routes import Feeding, calendar_router
from dashboards.hand_over_routes import HandingOver, hand_over_router
from dashboards.placing_routes import Advising, placing_router


@dataclass(frozen=True, slots=True)
class AheadPages:
    """What these pages need. `public_url`: under which other machines reach them; None where nobody stated it."""

    hand_over: HandingOver
    feeds: Feeding
    placing: Advising
    public_url: str | None = None


def add_ahead(app: FastAPI, pages: AheadPages) -> None:
    """Give an app these pages."""
    app.include_router(hand_over_router(pages.hand_over))
    app.include_router(calendar_router(pages.feeds, pages.public_url))
    app.include_router(placing_router(pages.placing))
