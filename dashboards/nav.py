"""The pages that people go to and fro between. Pure."""

from collections.abc import Container
from typing import NamedTuple

_PAGES = (
    ("Now", "/"),
    ("Clutches", "/clutches"),
    ("Round", "/rounds"),
    ("Charts", "/charts"),
    ("Alarms", "/alarms"),
    ("Messages", "/messages"),
    ("Set-up", "/set-up"),
)
PATHS = tuple(path for _, path in _PAGES)
_REACHED_FROM = {"/messages": "/set-up"}
"""Pages that few need, by the page that leads to them where there is that one: a phone has room for so many."""


class NavLink(NamedTuple):
    """One of them. `current` is the value of aria-current: `page` here, `true` on a page below it, else empty."""

    key: str
    name: str
    path: str
    current: str


def nav_links(present: Container[str], current: str) -> tuple[NavLink, ...]:
    """Give those that this program has, the one that `current` is or lies below marked. One alone needs none."""
    links = tuple(
        NavLink(f"to{path.replace('/', '-')}" if path != "/" else "to-status", name, path, _current(path, current))
        for name, path in _PAGES
        if path in present and _REACHED_FROM.get(path) not in present
    )
    return links if len(links) > 1 else ()


def _current(path: str, current: str) -> str:
    if current == path:
        return "page"
    is_below = current.startswith(f"{path}/") or _REACHED_FROM.get(current) == path
    return "true" if path != "/" and is_below else ""
