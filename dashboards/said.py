"""What somebody has just done by a button, said on the page that follows: to whoever pressed, for half a minute.

A page that looks as it did before the press is taken for a dead button, and pressed again.
"""

import time
from collections import OrderedDict
from contextvars import ContextVar
from threading import Lock

from dashboards.visiting import visitor

SHOWN_FOR_S = 30.0
_MOST_KEPT = 256
_path: ContextVar[str] = ContextVar("path_of_the_page", default="")
_said: OrderedDict[tuple[str, str], tuple[str, float]] = OrderedDict()
_lock = Lock()


def say(text: str, path: str) -> None:
    """Say it to the visitor of this request when they come to the page at `path`. A program hears its answer anyway."""
    here = visitor()
    if here is None or not here.guard:
        return
    with _lock:
        _said[here.guard, path] = (text, time.monotonic() + SHOWN_FOR_S)
        _said.move_to_end((here.guard, path))
        while len(_said) > _MOST_KEPT:
            _said.popitem(last=False)


def said_here() -> str:
    """Give what there is to say to this visitor on the page that is being made; mostly nothing."""
    here = visitor()
    if here is None or not here.guard:
        return ""
    with _lock:
        text, until = _said.get((here.guard, _path.get()), ("", 0.0))
    return text if time.monotonic() < until else ""


def come_to(path: str) -> None:
    """Say which page is being made, for the rest of this request."""
    _path.set(path)
