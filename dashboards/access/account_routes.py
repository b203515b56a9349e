"""Addresses of one's own account: password, second factor, sessions. A GET changes nothing."""

from zoneinfo import ZoneInfo

import segno
from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from daemon.access.second_factor import is_secret
from daemon.access.values import Refused, SignedIn, Visitor
from daemon.access_desk import AccessDesk
from dashboards.access.account_view import (
    DROP_PATH,
    END_OTHERS_PATH,
    END_PATH,
    PASSWORD_PATH,
    account_view,
    drop_view,
    second_factor_view,
)
from dashboards.access.answering import answer_page, signed_in, token_here
from dashboards.access.door import Door
from dashboards.access.entry_view import AGAIN, NEW_PASSWORD
from dashboards.access.middleware import client_address
from dashboards.access.policy import ACCOUNT_PATH, SECOND_FACTOR_PATH
from dashboards.access.typed import said_twice
from dashboards.forms import Form
from dashboards.rendering import render
from dashboards.visiting import visitor

_LONGEST_NUMBER = 18


def account_router(door: Door, desk: AccessDesk) -> APIRouter:
    """Make the routes."""
    router = APIRouter(include_in_schema=False)
    pages = _Pages(door, desk)

    @router.api_route(ACCOUNT_PATH, methods=["GET", "HEAD"])
    def account_page() -> Response:
        return pages.account()

    @router.post(PASSWORD_PATH)
    def change_password(request: Request, form: Form) -> Response:
        answer: SignedIn | Refused | None = said_twice(form, NEW_PASSWORD.name, AGAIN.name)
        if answer is None:
            old, new = form.get("old", ""), form.get(NEW_PASSWORD.name, "")
            answer = desk.change_password(token_here(request, door), old, new, client_address(request.scope))
        if isinstance(answer, SignedIn):
            return signed_in(request, door, answer, ACCOUNT_PATH)
        return pages.account(answer)

    @router.post(END_PATH)
    def end_session(form: Form) -> Response:
        number = form.get("number", "")
        if number.isascii() and number.isdecimal() and len(number) <= _LONGEST_NUMBER:
            desk.end_session(_here(), int(number))
        return RedirectResponse(ACCOUNT_PATH, 303)

    @router.post(END_OTHERS_PATH)
    def end_other_sessions(form: Form) -> Response:
        del form
        desk.end_other_sessions(_here())
        return RedirectResponse(ACCOUNT_PATH, 303)

    _add_second_factor(router, door, desk, pages)
    return router


def _add_second_factor(router: APIRouter, door: Door, desk: AccessDesk, pages: "_Pages") -> None:
    @router.api_route(SECOND_FACTOR_PATH, methods=["GET", "HEAD"])
    def second_factor_page() -> Response:
        if _here().session is None:
            return RedirectResponse(ACCOUNT_PATH, 303)
        return pages.drop() if pages.has_second_factor() else pages.second_factor()

    @router.post(SECOND_FACTOR_PATH)
    def set_up(request: Request, form: Form) -> Response:
        secret, code = form.get("secret", ""), form.get("code", "")
        refused = desk.finish_second_factor(token_here(request, door), secret, code, client_address(request.scope))
        return RedirectResponse(ACCOUNT_PATH, 303) if refused is None else pages.second_factor(secret, refused)

    @router.post(DROP_PATH)
    def drop(request: Request, form: Form) -> Response:
        address = client_address(request.scope)
        refused = desk.drop_second_factor(token_here(request, door), form.get("password", ""), address)
        return RedirectResponse(ACCOUNT_PATH, 303) if refused is None else pages.drop(refused)


class _Pages:
    """Makes the pages of whoever asks."""

    def __init__(self, door: Door, desk: AccessDesk) -> None:
        self._door = door
        self._desk = desk

    def account(self, refused: Refused | None = None) -> Response:
        here = _here()
        view = account_view(
            here,
            self._desk.sessions(here),
            self._door.now_ms(),
            ZoneInfo(self._door.time_zone),
            has_second_factor=self.has_second_factor(),
            refused=refused,
        )
        return answer_page(render("account.html", view=view), refused)

    def has_second_factor(self) -> bool:
        who = _here().who
        return any(each.has_second_factor for each in self._desk.accounts() if each.name == who)

    def second_factor(self, secret: str = "", refused: Refused | None = None) -> Response:
        fresh, address = self._desk.begin_second_factor(_here())
        # What has been scanned already stays good while a wrong code is mended.
        kept = secret if is_secret(secret) else fresh
        rows = segno.make(address.replace(fresh, kept), error="m", micro=False).matrix
        return answer_page(render("second_factor.html", view=second_factor_view(kept, rows, refused)), refused)

    def drop(self, refused: Refused | None = None) -> Response:
        return answer_page(render("second_factor.html", view=drop_view(refused)), refused)


def _here() -> Visitor:
    here = visitor()
    if here is None:
        raise AssertionError("the door lets nobody in here who is nobody")
    return here
