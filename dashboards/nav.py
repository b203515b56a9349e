"""The pages that people go to and fro between. Pure."""

from collections.abc import Container
from typing import NamedTuple

_PAGES = (
    ("Now", "/"),
    ("Clutches", "/clutches"),
    ("Charts", "/charts"),
    ("Alarms", "/alarms"),
    ("Messages", "/messages"),
)
PATHS = tuple(path for _, path in _PAGES)


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
        if path in present
    )
    return links if len(links) > 1 else ()


def _current(path: str, current: str) -> str:
    if current == path:
        return "page"
    return "true" if path != "/" and current.startswith(f"{path}/") else ""
