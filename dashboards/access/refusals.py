"""Answers to whoever is not let in, or may not do what they asked for."""

from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response

from daemon.access.values import Role, Visitor
from dashboards.access.account_view import MAY
from dashboards.access.carried import Carried
from dashboards.access.entry_view import carrying, confirm_view, sign_in_view
from dashboards.access.local_path import with_way_back
from dashboards.access.policy import CONFIRM_PATH, SIGN_IN_PATH
from dashboards.rendering import render

_SIGN_IN = "Sign in first, or send the key of a program: Authorization: Bearer KEY."
_BAD_KEY = "This key is not known here, or was withdrawn. A keeper makes a new one under Set-up, Accounts."
_FOREIGN = "This was sent from another page, so nothing was done. Open these pages themselves and press there.\n"
_WRONG_HOST = (
    "These pages do not answer to that name. Open them by the address that clutchwarden prints when it starts, or\n"
    "state the name as public_url under [web] in settings.toml.\n"
)


def wrong_host() -> Response:
    """Answer to a name that is not ours (RFC 9110 section 15.5.20)."""
    return PlainTextResponse(_WRONG_HOST, 421)


def sent_from_elsewhere() -> Response:
    """Answer to a form of another site."""
    return PlainTextResponse(_FOREIGN, 403)


def sign_in_first(to: str, *, as_json: bool, with_key: bool = False) -> Response:
    """Send a browser to the page of sign-in, and tell a program (RFC 6750 section 3)."""
    if not as_json:
        return RedirectResponse(with_way_back(SIGN_IN_PATH, to), 303)
    said, why = (_BAD_KEY, ', error="invalid_token"') if with_key else (_SIGN_IN, "")
    return JSONResponse({"detail": said}, 401, {"WWW-Authenticate": f'Bearer realm="clutchwarden"{why}'})


def confirm_first(to: str, *, as_json: bool) -> Response:
    """Ask for the password again."""
    if as_json:
        return JSONResponse({"detail": f"Give the password again first, at {CONFIRM_PATH}."}, 403)
    return RedirectResponse(with_way_back(CONFIRM_PATH, to), 303)


def first_the_password(carried: Carried, to: str, *, again: bool) -> Response:
    """Ask for the password at the place where a form was sent too late, and take along what was typed."""
    view = confirm_view(to) if again else sign_in_view(to)
    return HTMLResponse(render("entry.html", view=carrying(view, carried)), 403)


def role_too_low(visitor: Visitor, needed: Role, *, as_json: bool) -> Response:
    """Say which role is needed, and who gives it."""
    said = f"This needs the role {needed}; {visitor.who} is {visitor.role}, who {MAY[visitor.role]}."
    if as_json:
        return JSONResponse({"detail": said}, 403)
    return HTMLResponse(render("not_allowed.html", lines=(said, "A keeper gives roles under Set-up, Accounts.")), 403)


def not_a_program(*, as_json: bool) -> Response:
    """Say that a key is not enough."""
    said = "People, contacts and accounts are changed by a keeper who signed in, not with the key of a program."
    return JSONResponse({"detail": said}, 403) if as_json else PlainTextResponse(f"{said}\n", 403)


def not_our_form(*, as_json: bool) -> Response:
    """Answer to a form without the guard token of the session."""
    lines = (
        "Nothing was done: the form was made before you last signed in, or was not made by these pages.",
        "Go back, load that page again, and send it once more.",
    )
    if as_json:
        return JSONResponse({"detail": " ".join(lines)}, 403)
    return HTMLResponse(render("not_allowed.html", lines=lines), 403)
