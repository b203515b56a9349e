"""The page of a box as an answer, also where what was sent was refused."""

from fastapi.responses import HTMLResponse

from daemon.rounds.walk import Walk
from dashboards.alarm_answer import nothing
from dashboards.rendering import render
from dashboards.rounds_box import Typed
from dashboards.rounds_pages import RoundPages, new_id
from dashboards.rounds_paths import ROUNDS_PATH, walk_path
from dashboards.rounds_start import DEMO_WALK
from dashboards.rounds_walk import Order


def box_answer(pages: RoundPages, walk: Walk, key: str, order: Order, typed: Typed, status: int = 200) -> HTMLResponse:
    """Give the page of a box, with what was typed and refused."""
    found = pages.box(walk, key)
    if found is None:
        return nothing("box on this round", walk_path([each.number for each in walk.rounds]), "All boxes of the round")
    _, page = found
    values = pages.box_values(walk, page, order, typed, typed.one("entry_id") or new_id())
    return HTMLResponse(render("round_box_page.html", **values, **about(pages, walk)), status)


def order_of(text: str) -> Order:
    """Read the order of the list from an address."""
    return Order(text) if text in set(Order) else Order.STAND


def numbers_of(walk: Walk) -> str:
    """Give the numbers of its rounds as they stand in the address."""
    return ",".join(str(each.number) for each in walk.rounds)


def about(pages: RoundPages, walk: Walk) -> dict[str, object]:
    """Give what every page of a walk needs."""
    return {
        "site_name": pages.site_name,
        "walk_numbers": numbers_of(walk),
        "is_ended": all(each.round.ended_ms is not None for each in walk.rounds),
        "over": pages.over(walk),
        "demo": DEMO_WALK if pages.is_demo else "",
    }


def no_round() -> HTMLResponse:
    """Say that there is no such round."""
    return nothing("round", ROUNDS_PATH, "All rounds")
