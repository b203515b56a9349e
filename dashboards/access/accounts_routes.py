"""Addresses where keepers see to accounts and to the keys of programs. A GET changes nothing."""

from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from daemon.access.values import Refused, Role
from daemon.access_desk import AccessDesk
from dashboards.access.accounts_view import (
    CLOSE_PATH,
    INVITE_PATH,
    KEY_PATH,
    ROLE_PATH,
    WITHDRAW_PATH,
    Once,
    Sent,
    accounts_view,
    invitation,
    program_key,
)
from dashboards.access.answering import answer_page
from dashboards.access.door import Door
from dashboards.access.middleware import client_address
from dashboards.access.policy import ACCOUNTS_PATH
from dashboards.forms import Form
from dashboards.rendering import render
from dashboards.visiting import visitor

_NO_ROLE = Refused("Choose a role of the list.", field="role")


def accounts_router(door: Door, desk: AccessDesk) -> APIRouter:
    """Make the routes."""
    router, zone = APIRouter(include_in_schema=False), ZoneInfo(door.time_zone)

    def page(sent: Sent | None = None, once: Once | None = None) -> Response:
        view = accounts_view(desk.accounts(), desk.keys(), door.now_ms(), zone, sent, once, desk.people)
        return answer_page(render("accounts.html", view=view), None if sent is None else sent.refused)

    def done(path: str, form: dict[str, str], refused: Refused | None) -> Response:
        return RedirectResponse(ACCOUNTS_PATH, 303) if refused is None else page(Sent(path, form, refused))

    @router.api_route(ACCOUNTS_PATH, methods=["GET", "HEAD"])
    def accounts_page() -> Response:
        return page()

    @router.post(INVITE_PATH)
    def invite(request: Request, form: Form) -> Response:
        name, role = form.get("name", "").strip(), _role(form)
        by, address = visitor(), client_address(request.scope)
        made = _NO_ROLE if role is None else desk.invite(by, name, role, address)
        if isinstance(made, Refused):
            return page(Sent(INVITE_PATH, form, made))
        code, until_ms = made
        return page(once=invitation(name, code, until_ms, door.now_ms(), zone, door.public_url))

    @router.post(ROLE_PATH)
    def set_role(request: Request, form: Form) -> Response:
        role, address = _role(form), client_address(request.scope)
        refused = _NO_ROLE if role is None else desk.set_role(visitor(), form.get("name", ""), role, address)
        return done(ROLE_PATH, form, refused)

    @router.post(CLOSE_PATH)
    def close(request: Request, form: Form) -> Response:
        return done(CLOSE_PATH, form, desk.close(visitor(), form.get("name", ""), client_address(request.scope)))

    @router.post(KEY_PATH)
    def add_key(request: Request, form: Form) -> Response:
        name, role = form.get("name", "").strip(), _role(form)
        made = _NO_ROLE if role is None else desk.add_key(visitor(), name, role, client_address(request.scope))
        return page(Sent(KEY_PATH, form, made)) if isinstance(made, Refused) else page(once=program_key(name, made))

    @router.post(WITHDRAW_PATH)
    def withdraw(request: Request, form: Form) -> Response:
        refused = desk.withdraw_key(visitor(), form.get("name", ""), client_address(request.scope))
        return done(WITHDRAW_PATH, form, refused)

    return router


def _role(form: dict[str, str]) -> Role | None:
    stated = form.get("role", "")
    return Role(stated) if stated in set(Role) else None
