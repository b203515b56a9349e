"""Who the page that is being made is for: set for every request, asked by routes and templates."""

from contextvars import ContextVar

from daemon.access.values import Visitor

_visitor: ContextVar[Visitor | None] = ContextVar("visitor", default=None)


def visitor() -> Visitor | None:
    """Give whoever asks for this page; None for somebody who has not signed in."""
    return _visitor.get()


def visit(who: Visitor | None) -> None:
    """Say who asks, for the rest of this request."""
    _visitor.set(who)
