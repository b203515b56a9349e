"""Addresses of sign-in, of an invitation, of a password given again, and of the way out. A GET changes nothing."""

from collections.abc import Mapping

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from daemon.access.values import Refused, SignedIn
from daemon.access_desk import AccessDesk
from dashboards.access.answering import answer_page, signed_in, signed_in_with, signed_out, token_here
from dashboards.access.carried import carried_in
from dashboards.access.door import Door
from dashboards.access.entry_view import (
    AGAIN,
    NEW_PASSWORD,
    EntryView,
    carrying,
    confirm_view,
    sign_in_view,
    welcome_view,
)
from dashboards.access.local_path import local_path
from dashboards.access.middleware import client_address
from dashboards.access.policy import CONFIRM_PATH, SIGN_IN_PATH, SIGN_OUT_PATH, WELCOME_PATH
from dashboards.access.typed import said_twice
from dashboards.forms import Form, OpenForm
from dashboards.rendering import render
from dashboards.visiting import visitor


def entry_router(door: Door, desk: AccessDesk) -> APIRouter:
    """Make the routes."""
    router = APIRouter(include_in_schema=False)
    _add_sign_in(router, door, desk)
    _add_welcome(router, door, desk)
    _add_confirm(router, door, desk)

    @router.post(SIGN_OUT_PATH)
    def sign_out(request: Request, form: Form) -> Response:
        del form
        desk.sign_out(token_here(request, door))
        return signed_out(request, door)

    return router


def _add_sign_in(router: APIRouter, door: Door, desk: AccessDesk) -> None:
    @router.api_route(SIGN_IN_PATH, methods=["GET", "HEAD"])
    def sign_in_page(to: str = "/") -> Response:
        if visitor() is not None:
            return RedirectResponse(local_path(to), 303)
        if desk.needs_first() and not any(each.can_sign_in for each in desk.accounts()):
            return RedirectResponse(WELCOME_PATH, 303)
        return _page(sign_in_view(to))

    @router.post(SIGN_IN_PATH)
    def sign_in(request: Request, form: OpenForm) -> Response:
        name, password, code = (form.get(each, "") for each in ("name", "password", "code"))
        device = request.headers.get("user-agent", "")
        answer = desk.sign_in(name.strip(), password, code, client_address(request.scope), device)
        return _entered(request, door, answer, form, sign_in_view(form.get("to", "/"), form, _refusal(answer)))


def _add_welcome(router: APIRouter, door: Door, desk: AccessDesk) -> None:
    @router.api_route(WELCOME_PATH, methods=["GET", "HEAD"])
    def welcome_page() -> Response:
        return _page(welcome_view(is_first=desk.needs_first()))

    @router.post(WELCOME_PATH)
    def welcome(request: Request, form: OpenForm) -> Response:
        answer: SignedIn | Refused | None = said_twice(form, NEW_PASSWORD.name, AGAIN.name)
        if answer is None:
            code, name, password = (form.get(each, "") for each in ("code", "name", NEW_PASSWORD.name))
            device = request.headers.get("user-agent", "")
            answer = desk.accept(code, name.strip(), password, client_address(request.scope), device)
        refused = _refusal(answer)
        return _entered(request, door, answer, {}, welcome_view(form, refused, is_first=desk.needs_first()))


def _add_confirm(router: APIRouter, door: Door, desk: AccessDesk) -> None:
    @router.api_route(CONFIRM_PATH, methods=["GET", "HEAD"])
    def confirm_page(to: str = "/") -> Response:
        here = visitor()
        if here is None or here.session is None:
            return RedirectResponse(local_path(to), 303)
        return _page(confirm_view(to))

    @router.post(CONFIRM_PATH)
    def confirm(request: Request, form: Form) -> Response:
        password, code = form.get("password", ""), form.get("code", "")
        answer = desk.confirm(token_here(request, door), password, code, client_address(request.scope))
        return _entered(request, door, answer, form, confirm_view(form.get("to", "/"), form, _refusal(answer)))


def _refusal(answer: SignedIn | Refused) -> Refused | None:
    return answer if isinstance(answer, Refused) else None


def _entered(
    request: Request, door: Door, answer: SignedIn | Refused, form: Mapping[str, str], refused: EntryView
) -> Response:
    carried, back = carried_in(form), local_path(form.get("to", "/"))
    if isinstance(answer, Refused):
        return answer_page(render("entry.html", view=carrying(refused, carried)), answer)
    if carried is not None:
        return signed_in_with(request, door, answer, carried, back)
    return signed_in(request, door, answer, back)


def _page(view: EntryView) -> Response:
    return HTMLResponse(render("entry.html", view=view))
