"""Who the page that is being made is for: set for every request, asked by routes and templates."""

from collections.abc import Callable
from contextvars import ContextVar

from daemon.access.values import Role, Visitor

_visitor: ContextVar[Visitor | None] = ContextVar("visitor", default=None)
_still: ContextVar[Callable[[], bool] | None] = ContextVar("still", default=None)
_confirmed: ContextVar[bool] = ContextVar("confirmed", default=False)


def visitor() -> Visitor | None:
    """Give whoever asks for this page; None for somebody who has not signed in."""
    return _visitor.get()


def visitor_name(otherwise: str) -> str:
    """Give the name that goes into journals: that of the visitor, else another one."""
    here = _visitor.get()
    return otherwise if here is None else here.who


def may(role: str) -> bool:
    """True where the visitor may do what this role may."""
    here = _visitor.get()
    return here is not None and here.role.may(Role(role))


def is_confirmed() -> bool:
    """True where the visitor gave their password so lately that they may change people and accounts."""
    return _confirmed.get()


def is_still_here() -> bool:
    """Ask again whether the visitor is let in: for an answer that takes long, such as an event stream."""
    ask = _still.get()
    return ask is None or ask()


def visit(who: Visitor | None, still: Callable[[], bool] | None = None, *, confirmed: bool = False) -> None:
    """Say who asks, for the rest of this request; `still` says whether they are let in at a later moment."""
    _visitor.set(who)
    _still.set(still)
    _confirmed.set(confirmed)
