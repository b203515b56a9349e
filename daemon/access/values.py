"""Accounts, visitors and sessions. Pure values; times are UTC ms."""

from dataclasses import dataclass
from enum import StrEnum

AT_THE_DEMO = "page"
"""Who a visitor is where no sign-in is asked for: in the demo, in a browser on the same machine."""


class Role(StrEnum):
    """What an account may do. Each may do what the one before it may."""

    VIEWER = "viewer"
    """read everything"""
    RESPONDER = "responder"
    """and answer alarms, do rounds, write down what was seen and done"""
    KEEPER = "keeper"
    """and change the set-up: probes, calibrations, species, people, accounts"""

    def may(self, needed: "Role") -> bool:
        """True where this role is enough."""
        order = tuple(Role)
        return order.index(self) >= order.index(needed)


@dataclass(frozen=True, slots=True)
class Account:
    """Somebody who can sign in. `name` is what they type, and the id of a person of the site where there is one.

    `has_password` is False from the invitation until it is used. `failures`: how often in a row a password was wrong;
    `wait_until_ms`: none is looked at before.
    """

    name: str
    role: Role
    created_ms: int
    created_by: str
    has_password: bool
    has_second_factor: bool = False
    failures: int = 0
    wait_until_ms: int = 0
    closed_ms: int | None = None

    @property
    def can_sign_in(self) -> bool:
        """True where there is a password and nobody closed the account."""
        return self.has_password and self.closed_ms is None


@dataclass(frozen=True, slots=True)
class Session:
    """A browser that is signed in. `device` is what the browser says of itself, in a few words."""

    number: int
    account: str
    begun_ms: int
    seen_ms: int
    until_ms: int
    address: str
    device: str
    is_this: bool = False


@dataclass(frozen=True, slots=True)
class ProgramKey:
    """What a program shows instead of signing in. `seen_ms`: when it was last used; UTC ms."""

    name: str
    role: Role
    made_ms: int
    made_by: str
    seen_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks for a page.

    `who` goes into journals: the name of the account, that of a program's key, or AT_THE_DEMO. `guard` is the token
    that every form of theirs carries; empty for a program. `confirmed_ms`: when they last gave their password.
    """

    who: str
    role: Role
    guard: str = ""
    session: int | None = None
    confirmed_ms: int | None = None

    def has_confirmed(self, now_ms: int, within_ms: int) -> bool:
        """True where the password was given not longer ago than this, by the same clock."""
        return self.confirmed_ms is not None and 0 <= now_ms - self.confirmed_ms <= within_ms


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A sign-in that worked. `token` goes into the cookie and is kept nowhere."""

    token: str
    visitor: Visitor
    until_ms: int


@dataclass(frozen=True, slots=True)
class Refused:
    """Why not, in a sentence for whoever tried; after how many seconds they may try again; `field`: what to mend."""

    reason: str
    wait_s: float = 0.0
    field: str = ""
