"""The page of the set-up: which of its pages there are. Pure but for the look at what the app has."""

from collections.abc import Container
from typing import NamedTuple

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from dashboards.backups_view import BACKUPS_PATH
from dashboards.nav_here import has_page
from dashboards.rendering import render
from dashboards.reports_paths import REPORTS_PATH
from dashboards.setup_probe_paths import PROBES_PATH, SET_UP_PATH
from dashboards.visiting import may


class SetUpLink(NamedTuple):
    """One page of the set-up, and what it is for."""

    key: str
    name: str
    path: str
    told: str
    for_keepers: bool = False


_LINKS = (
    SetUpLink("to-probes", "Probes", PROBES_PATH, "What each probe sends, and devices that are not taken up yet."),
    SetUpLink("to-messages", "Messages", "/messages", "What became of every message, and the newest refused ones."),
    SetUpLink("to-calibration", "Calibration", "/set-up/calibration", "How sure each probe is, and what is overdue."),
    SetUpLink("to-people", "People and contacts", "/set-up/people", "Whom alarms reach, how, and when it is quiet."),
    SetUpLink(
        "to-rota",
        "Who is on duty, test message",
        "/people",
        "Who is called now and next, absences, a test.",
    ),
    SetUpLink("to-hand-over", "Numbers and keys", "/set-up/hand-over", "Your own words on the sheet of the hand-over."),
    SetUpLink("to-calendar", "Calendar", "/set-up/calendar", "Addresses for calendar programs: what is due, and when."),
    SetUpLink("to-species", "Species", "/set-up/species", "Limits and development of every species, with sources."),
    SetUpLink("to-reports", "Reports", REPORTS_PATH, "A month or a season to print and to hand on, as a zip."),
    SetUpLink("to-backups", "Backups", BACKUPS_PATH, "The newest one, where it is, and whether it can be restored."),
    SetUpLink(
        "to-accounts", "Accounts", "/set-up/accounts", "Who may sign in, and the keys of programs.", for_keepers=True
    ),
    SetUpLink("to-audit", "Changes", "/set-up/audit", "Who changed what, and when.", for_keepers=True),
)


def set_up_links(present: Container[str], *, for_keeper: bool = True) -> tuple[SetUpLink, ...]:
    """Give those that there are, and that the visitor may read."""
    return tuple(link for link in _LINKS if link.path in present and (for_keeper or not link.for_keepers))


def set_up_router() -> APIRouter:
    """Make the route."""
    router = APIRouter(include_in_schema=False)

    @router.api_route(SET_UP_PATH, methods=["GET", "HEAD"], response_class=HTMLResponse)
    def set_up(request: Request) -> str:
        present = frozenset(link.path for link in _LINKS if has_page(request.app, link.path))
        return render("setup.html", links=set_up_links(present, for_keeper=may("keeper")), is_keeper=may("keeper"))

    return router
