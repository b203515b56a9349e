"""The doorkeeper: asks before every page who wants it, and what the policy says."""

import hmac
import logging
from collections.abc import Callable
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request, cookie_parser
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from daemon.access.session_life import CONFIRMED_FOR_MS
from daemon.access.values import Role, Visitor
from daemon.storage.errors import JournalError
from dashboards import visiting
from dashboards.access import refusals
from dashboards.access.cookies import token_of
from dashboards.access.door import Door
from dashboards.access.late_forms import late_form
from dashboards.access.policy import CONFIRM_PATH, SAFE_METHODS, SIGN_OUT_PATH, STATIC, Ruling, needed_role, rule
from dashboards.nav_here import nearest_page
from dashboards.origin import comes_from_elsewhere
from dashboards.visiting import visit

log = logging.getLogger("clutchwarden.pages")

_BEARER = "bearer "
_SEE_OTHER = 303
_NOT_CARRIED = frozenset({SIGN_OUT_PATH, CONFIRM_PATH})
_FOR_PROGRAMS = ("/api/", "/openapi.json", "/metrics")
_CANNOT_LOOK = "Who is signed in cannot be read just now; the log of clutchwarden says why. Try again in a minute.\n"


class Doorkeeper:
    """Plain ASGI, since a wrapper that collects the answer would hold back an event stream."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self._app = app
        self._door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what is allowed, and answer everything else."""
        if scope["type"] == "http":
            refusal = await self._refusal(scope)
            if refusal is not None and refusal.status_code == _SEE_OTHER and scope["method"] == "POST":
                refusal = await _with_what_was_typed(scope, receive) or refusal
            if refusal is not None:
                await refusal(scope, receive, send)
                return
        await self._app(scope, receive, send)

    async def _refusal(self, scope: Scope) -> Response | None:
        headers, door = Headers(scope=scope), self._door
        method, path = scope["method"], scope["path"]
        visit(None)
        if door.hosts is not None and not door.hosts.know(headers.get("host", "")):
            return refusals.wrong_host()
        if method not in SAFE_METHODS and comes_from_elsewhere(headers, door.ours):
            return refusals.sent_from_elsewhere()
        if path.startswith(STATIC):
            return None
        look = self._looker(scope, headers)
        try:
            visitor = await run_in_threadpool(look)
        except JournalError as error:
            if needed_role(method, path) is None:
                return None
            log.error("Nobody can be let in just now: %s", error)  # noqa: TRY400 - the text is whole
            return PlainTextResponse(_CANNOT_LOOK, 503, {"Retry-After": "60"})
        return self._ruled(scope, headers, visitor, look)

    def _ruled(
        self, scope: Scope, headers: Headers, visitor: Visitor | None, look: Callable[[], Visitor | None]
    ) -> Response | None:
        method, path, now_ms = scope["method"], scope["path"], self._door.now_ms()
        ruled = rule(method, path, visitor, now_ms)
        confirmed = visitor is not None and visitor.has_confirmed(now_ms, CONFIRMED_FOR_MS)
        visit(visitor, lambda: _is_still_let_in(look), confirmed=confirmed)
        if ruled.ruling is Ruling.ALLOWED:
            return None
        as_json = wants_json(path, headers)
        if visitor is None:
            return refusals.sign_in_first(_page_of(scope), as_json=as_json, with_key=bool(_key_in(headers)))
        if ruled.ruling is Ruling.CONFIRM:
            return refusals.confirm_first(_page_of(scope), as_json=as_json)
        if ruled.ruling is Ruling.NOT_A_PROGRAM:
            return refusals.not_a_program(as_json=as_json)
        log.info("%s, who is %s, was refused %s %s", visitor.who, visitor.role, method, quote(path))
        return refusals.role_too_low(visitor, ruled.needed or Role.KEEPER, as_json=as_json)

    def _looker(self, scope: Scope, headers: Headers) -> Callable[[], Visitor | None]:
        """Give what says who asks: by the key where one is sent, else by the cookie, else by where they are."""
        door, desk = self._door, self._door.desk
        key, address = _key_in(headers), client_address(scope)
        https = door.is_https(scope["scheme"], headers.get("host", ""))
        token = token_of(cookie_parser(headers.get("cookie", "")), https=https)

        def look() -> Visitor | None:
            if key and desk is not None:
                return desk.visitor_of_key(key)
            found = desk.visitor(token, address) if token and desk is not None else None
            return found or door.uninvited(headers)

        return look


async def _with_what_was_typed(scope: Scope, receive: Receive) -> Response | None:
    """Ask for the password here instead of elsewhere, where a form came too late; None where none came."""
    if scope["path"] in _NOT_CARRIED:
        return None
    found, guard = await late_form(Request(scope, receive))
    here = visiting.visitor()
    # Whoever is signed in shows that the form is ours; of others nothing is known, and they see what they send.
    if found is None or (here is not None and not hmac.compare_digest(guard.encode(), here.guard.encode())):
        return None
    return refusals.first_the_password(found, _page_of(scope), again=here is not None)


def _key_in(headers: Headers) -> str:
    """Give the key that a program sends; empty where none is.

    Any other scheme is between a browser and the proxy before these pages, which passes the header on.
    """
    sent = headers.get("authorization", "")
    return sent[len(_BEARER) :].strip() if sent[: len(_BEARER)].lower() == _BEARER else ""


def client_address(scope: Scope) -> str:
    """Give the address that asks; empty where the server does not know it."""
    client = scope.get("client")
    return str(client[0]) if client else ""


def _is_still_let_in(look: Callable[[], Visitor | None]) -> bool:
    try:
        return look() is not None
    except JournalError:
        # It cannot be said now; a page that hears nothing shows by itself that it is cut off.
        return True


def wants_json(path: str, headers: Headers) -> bool:
    """True where a refusal is for a program or a script, and not for a person."""
    accepted = headers.get("accept", "")
    is_data = path.startswith(_FOR_PROGRAMS) or path.endswith("/events") or bool(_key_in(headers))
    return is_data or accepted.startswith(("text/event-stream", "application/json"))


def _page_of(scope: Scope) -> str:
    """Where to come back to: the page itself, or that whose form was sent."""
    if scope["method"] not in SAFE_METHODS:
        return nearest_page(scope["app"], scope["path"])
    query = scope.get("query_string", b"").decode("ascii", "replace")
    path = quote(scope["path"], safe="/:@!$&'()*+,;=~")
    return f"{path}?{query}" if query else path
