"""What somebody has just done by a button, said on the page that follows: to whoever pressed, for half a minute.

A page that looks as it did before the press is taken for a dead button, and pressed again. What takes a new start of
the service is said in two steps: that it is saved, and from the new start on that it counts.
"""

import time
from collections import OrderedDict
from contextvars import ContextVar
from dataclasses import dataclass
from threading import Lock

from dashboards.visiting import visitor

SHOWN_FOR_S = 30.0
_MOST_KEPT = 256
_path: ContextVar[str] = ContextVar("path_of_the_page", default="")
_made: ContextVar[str] = ContextVar("start_of_the_pages", default="")


@dataclass(frozen=True, slots=True)
class _Told:
    """What is said, until when, by which start of the pages, and what instead after a new one; empty: the same."""

    text: str
    until_s: float
    made: str
    then: str


_said: OrderedDict[tuple[str, str], _Told] = OrderedDict()
_lock = Lock()


def say(text: str, path: str, then: str = "") -> None:
    """Say it to the visitor of this request when they come to the page at `path`. A program hears its answer anyway.

    `then` is said instead once the pages have started anew, where they are about to.
    """
    here = visitor()
    if here is None or not here.guard:
        return
    with _lock:
        _said[here.guard, path] = _Told(text, time.monotonic() + SHOWN_FOR_S, _made.get(), then)
        _said.move_to_end((here.guard, path))
        while len(_said) > _MOST_KEPT:
            _said.popitem(last=False)


def said_here() -> str:
    """Give what there is to say to this visitor on the page that is being made; mostly nothing."""
    told = _told_here()
    if told is None:
        return ""
    return told.then if told.then and told.made != _made.get() else told.text


def awaits_new_start() -> bool:
    """True where this page shows what was, because the new start that somebody has just asked for is still to come."""
    told = _told_here()
    return told is not None and bool(told.then) and told.made == _made.get()


def made_here() -> str:
    """Give what tells this start of the pages from another."""
    return _made.get()


def come_to(path: str, made: str = "") -> None:
    """Say which page is being made, and by which start of the pages, for the rest of this request."""
    _path.set(path)
    _made.set(made)


def _told_here() -> _Told | None:
    here = visitor()
    if here is None or not here.guard:
        return None
    with _lock:
        told = _said.get((here.guard, _path.get()))
    return told if told is not None and time.monotonic() < told.until_s else None
