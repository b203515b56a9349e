"""The pages of incidents alone, before the journal of the demo's site, and its form as a browser sends it."""

from urllib.parse import urlencode

from fastapi import FastAPI

from daemon.access.values import Role
from daemon.chart_reader import ChartReader
from daemon.review_desk import ReviewDesk
from daemon.review_incidents import IncidentDesk
from dashboards.app import create_app
from dashboards.review_pages import ReviewPages
from tests.dashboards.asking import ask
from tests.support.demo_site import BRIDGE_S, DemoSite
from tests.support.doors import GUARD, open_to

FORM = "application/x-www-form-urlencoded"


def pages_of(site: DemoSite) -> ReviewPages:
    def now_ms() -> int:
        return site.now_ms

    reader = ChartReader(site.journal, site.site, BRIDGE_S, now_ms)
    reviews = ReviewDesk(site.journal, site.site, site.stated.profiles, BRIDGE_S, now_ms)
    return ReviewPages(reviews, IncidentDesk(site.journal, now_ms), reader, site.site)


def app_of(site: DemoSite, role: Role = Role.KEEPER, who: str = "mara") -> FastAPI:
    return create_app(site.overview, reviews=pages_of(site), door=open_to(role, who, guard=GUARD))


def send(app: FastAPI, number: int, fields: dict[str, str], guard: str = GUARD) -> tuple[int, str]:
    body = urlencode({"guard": guard, **fields}).encode()
    headers = {"Content-Type": FORM, "Sec-Fetch-Site": "same-origin"}
    answer = ask(app, f"/incidents/{number}/notes", "POST", body, headers)
    return answer.status_code, answer.text
