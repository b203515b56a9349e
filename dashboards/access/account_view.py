"""The page of one's own account: who one is, where one is signed in, password and second factor. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.access.values import Refused, Role, Session, Visitor
from dashboards import figures
from dashboards.access.entry_view import AGAIN, NEW_PASSWORD
from dashboards.access.policy import ACCOUNT_PATH, SECOND_FACTOR_PATH
from dashboards.access.typed import Field, FormView, answered

PASSWORD_PATH = f"{ACCOUNT_PATH}/password"
END_PATH, END_OTHERS_PATH = f"{ACCOUNT_PATH}/sessions/end", f"{ACCOUNT_PATH}/sessions/end-others"
DROP_PATH = f"{SECOND_FACTOR_PATH}/drop"
MAY = {
    Role.VIEWER: "may read everything",
    Role.RESPONDER: "may read everything, answer alarms, do rounds and write down what was seen",
    Role.KEEPER: "may do everything: also change probes, people and accounts",
}
_QUIET_PX = 4
"""Modules of white around the code, as ISO/IEC 18004 asks for."""


@dataclass(frozen=True, slots=True)
class SessionView:
    """One browser that is signed in."""

    number: int
    device: str
    said: str
    is_this: bool


@dataclass(frozen=True, slots=True)
class AccountView:
    """The whole page. `password` is None for whoever has no account, as in the demo."""

    name: str
    role: str
    may: str
    password: FormView | None
    has_second_factor: bool
    sessions: tuple[SessionView, ...]
    said: str = ""

    @property
    def has_others(self) -> bool:
        """True where there is another session to end."""
        return any(not each.is_this for each in self.sessions)


@dataclass(frozen=True, slots=True)
class SecondFactorView:
    """The page of the second factor: what to scan and type where there is none, else the way to do without.

    `squares` draws the code as the path of an SVG of `size` units.
    """

    form: FormView
    secret: str = ""
    squares: str = ""
    size: int = 0


def account_view(
    visitor: Visitor,
    sessions: Sequence[Session],
    now_ms: int,
    zone: ZoneInfo,
    *,
    has_second_factor: bool,
    refused: Refused | None = None,
    said: str = "",
) -> AccountView:
    """Everything on the page; `refused` is what was wrong with a new password."""
    fields = (Field("old", "The password that you have", "password", "current-password"), NEW_PASSWORD, AGAIN)
    form = FormView("password", PASSWORD_PATH, fields, "Change the password")
    return AccountView(
        name=visitor.who,
        role=visitor.role,
        may=MAY[visitor.role],
        password=answered(form, {}, refused) if visitor.session is not None else None,
        has_second_factor=has_second_factor,
        sessions=tuple(_session_view(each, now_ms, zone) for each in sessions),
        said=said,
    )


def second_factor_view(
    secret: str, address: Sequence[Sequence[int]], refused: Refused | None = None
) -> SecondFactorView:
    """The page that sets one up. `address` are the rows of its QR code, of 0 and 1."""
    code = Field("code", "The six digits that it shows now", "code", "one-time-code")
    form = FormView("second-factor", SECOND_FACTOR_PATH, (code,), "Set it up", (("secret", secret),))
    squares = "".join(
        f"M{column + _QUIET_PX} {row + _QUIET_PX}h1v1h-1z"
        for row, line in enumerate(address)
        for column, dark in enumerate(line)
        if dark
    )
    size = len(address) + 2 * _QUIET_PX
    return SecondFactorView(answered(form, {}, refused), _in_groups(secret), squares, size)


def drop_view(refused: Refused | None = None) -> SecondFactorView:
    """The page that does without one from now on."""
    password = Field("password", "Your password", "password", "current-password")
    form = FormView("drop", DROP_PATH, (password,), "Do without it")
    return SecondFactorView(answered(form, {}, refused))


def _session_view(session: Session, now_ms: int, zone: ZoneInfo) -> SessionView:
    today = figures.local(now_ms, zone)
    begun, seen, until = (figures.local(each, zone) for each in (session.begun_ms, session.seen_ms, session.until_ms))
    said = (
        f"Signed in {figures.clock_text(begun, today)} from {session.address or 'an unknown address'}, last seen "
        f"{figures.clock_text(seen, today)}. Ends {figures.full_date_text(until)} at the latest."
    )
    return SessionView(session.number, session.device, said, session.is_this)


def _in_groups(secret: str) -> str:
    return " ".join(secret[start : start + 4] for start in range(0, len(secret), 4))
