"""Answers of the pages of sign-in and accounts: with a new cookie, or with what was refused."""

import math

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from daemon.access.values import Refused, SignedIn
from dashboards.access.carried import Carried
from dashboards.access.cookies import forget, keep, token_of
from dashboards.access.door import Door
from dashboards.access.policy import SIGN_IN_PATH
from dashboards.rendering import render
from dashboards.visiting import visit


def token_here(request: Request, door: Door) -> str:
    """Give the token of the session that a browser has; empty where it has none."""
    return token_of(request.cookies, https=_is_https(request, door))


def signed_in(request: Request, door: Door, answer: SignedIn, to: str) -> Response:
    """Give the browser its token, and lead it on."""
    seconds = (answer.until_ms - door.now_ms()) // 1000
    cookie = keep(answer.token, seconds, https=_is_https(request, door))
    return RedirectResponse(to, 303, {"Set-Cookie": cookie})


def signed_in_with(request: Request, door: Door, answer: SignedIn, carried: Carried, back: str) -> Response:
    """Give the browser its token, and show what it had sent before, with a guard of the new session."""
    seconds = (answer.until_ms - door.now_ms()) // 1000
    cookie = keep(answer.token, seconds, https=_is_https(request, door))
    visit(answer.visitor, confirmed=True)
    return HTMLResponse(render("carried.html", carried=carried, back=back), headers={"Set-Cookie": cookie})


def signed_out(request: Request, door: Door) -> Response:
    """Take the token from the browser, and lead it to the page of sign-in."""
    return RedirectResponse(SIGN_IN_PATH, 303, {"Set-Cookie": forget(https=_is_https(request, door))})


def answer_page(page: str, refused: Refused | None) -> Response:
    """Give a page, with the status that says whether what was sent was refused, or came too soon (RFC 6585)."""
    if refused is None:
        return HTMLResponse(page)
    if refused.wait_s > 0:
        return HTMLResponse(page, 429, {"Retry-After": str(math.ceil(refused.wait_s))})
    return HTMLResponse(page, 422)


def _is_https(request: Request, door: Door) -> bool:
    return door.is_https(request.scope["scheme"], request.headers.get("host", ""))
