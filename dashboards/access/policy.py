"""What a visitor may do. Pure. Whatever is not named needs somebody who signed in, and to change it a keeper."""

from dataclasses import dataclass
from enum import StrEnum

from daemon.access.session_life import CONFIRMED_FOR_MS
from daemon.access.values import Role, Visitor

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
"""RFC 9110 section 9.2.1."""
SIGN_IN_PATH, CONFIRM_PATH, WELCOME_PATH, SIGN_OUT_PATH = "/sign-in", "/sign-in/confirm", "/welcome", "/sign-out"
ACCOUNT_PATH, ACCOUNTS_PATH, AUDIT_PATH = "/account", "/set-up/accounts", "/set-up/audit"
SECOND_FACTOR_PATH = f"{ACCOUNT_PATH}/second-factor"
STATIC = "/static/"

_OPEN = frozenset({SIGN_IN_PATH, WELCOME_PATH, "/health"})
_OPEN_BELOW = (STATIC, "/a/", "/calendar/")
"""The links of messages, and the addresses of calendars, carry a secret of their own."""
_OPEN_TO_SEND = frozenset({"/inbox/messages"})
"""The inbox of the demo stands in for a phone, and takes what the daemon sends, as JSON."""
_KEEPERS_READ = (ACCOUNTS_PATH, AUDIT_PATH)
_VIEWERS_SEND = (ACCOUNT_PATH, CONFIRM_PATH, SIGN_OUT_PATH)
_RESPONDERS_SEND = ("/alarms", "/rounds", "/clutches", "/people", "/incidents")
_KEEPERS_MEND = ("/reopen", "/withdraw")
"""Below a clutch: what takes back that it was closed, and what says that it never was."""
_CONFIRMED_SEND = ("/set-up/people", "/set-up/contacts", ACCOUNTS_PATH, SECOND_FACTOR_PATH, "/set-up/calendar")


class Ruling(StrEnum):
    """What becomes of a request."""

    ALLOWED = "allowed"
    SIGN_IN = "sign in first"
    TOO_LOW = "the role is too low"
    CONFIRM = "give the password again first"
    NOT_A_PROGRAM = "only a person who signed in"


@dataclass(frozen=True, slots=True)
class Ruled:
    """The ruling, and the role that the request needs; None where everybody may."""

    ruling: Ruling
    needed: Role | None


def rule(method: str, path: str, visitor: Visitor | None, now_ms: int) -> Ruled:
    """Say what becomes of a request of this visitor, who is None where nobody has signed in. `now_ms`: UTC ms."""
    needed = needed_role(method, path)
    if needed is None:
        return Ruled(Ruling.ALLOWED, None)
    if visitor is None:
        return Ruled(Ruling.SIGN_IN, needed)
    if not visitor.role.may(needed):
        return Ruled(Ruling.TOO_LOW, needed)
    if needs_confirmation(method, path) and not visitor.has_confirmed(now_ms, CONFIRMED_FOR_MS):
        return Ruled(Ruling.CONFIRM if visitor.session is not None else Ruling.NOT_A_PROGRAM, needed)
    return Ruled(Ruling.ALLOWED, needed)


def needed_role(method: str, path: str) -> Role | None:
    """Give the least role for a request; None where it is open to everybody. JSON needs what its page needs."""
    is_safe, page = method in SAFE_METHODS, path.removeprefix("/api")
    if path in _OPEN or path.startswith(_OPEN_BELOW) or (not is_safe and path in _OPEN_TO_SEND):
        return None
    if is_safe:
        return Role.KEEPER if _is_below(page, _KEEPERS_READ) else Role.VIEWER
    if _is_below(page, _VIEWERS_SEND):
        return Role.VIEWER
    if page.startswith("/clutches/") and page.rstrip("/").endswith(_KEEPERS_MEND):
        return Role.KEEPER
    return Role.RESPONDER if _is_below(page, _RESPONDERS_SEND) else Role.KEEPER


def needs_confirmation(method: str, path: str) -> bool:
    """True where the password has to have been given a short while ago."""
    return method not in SAFE_METHODS and _is_below(path.removeprefix("/api"), _CONFIRMED_SEND)


def _is_below(path: str, starts: tuple[str, ...]) -> bool:
    return any(path == each or path.startswith(f"{each}/") for each in starts)
