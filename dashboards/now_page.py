"""The first page, made once for all browsers that it looks the same to, as often as there is something new."""

import contextvars
import threading
from collections.abc import Callable, Hashable, Mapping
from dataclasses import replace
from typing import NamedTuple

from markupsafe import escape

from daemon.access.values import Visitor
from daemon.overview import Overview
from dashboards.nav_here import links_here
from dashboards.rendering import render
from dashboards.review_list_view import ReviewDue
from dashboards.said import said_here
from dashboards.view import PageView, page_view
from dashboards.visiting import is_confirmed, visit, visitor

_MOST_KEPT = 32
_GUARD = "the-guard-of-whoever-asks"
"""Stands in a kept page where the token of each visitor goes: it is no secret, and nobody's token."""


class _Made(NamedTuple):
    """A view with the overview that it was made of, and its version."""

    overview: Overview
    view: PageView
    version: str


class NowPage:
    """Safe to use from any thread. `links` are values that the template has for every visitor alike.

    `due` says which reviews of incidents wait.
    """

    def __init__(
        self,
        overview: Callable[[], Overview],
        links: Mapping[str, bool],
        due: Callable[[], ReviewDue | None] = lambda: None,
    ) -> None:
        self._overview = overview
        self._due = due
        self._links = links
        self._lock = threading.Lock()
        # Many phones ask in the moment of a change: one makes the page, the others wait for it.
        self._making = threading.Lock()
        self._made: _Made | None = None
        self._pages: dict[Hashable, str] = {}

    def version(self) -> str:
        """Give the mark of what is shown now. Raises NothingToShowError."""
        return self._now().version

    def html(self) -> str:
        """Give the page for the visitor of this request. Raises NothingToShowError."""
        here, made = visitor(), self._now()
        who = None if here is None else (here.who, here.role, here.session is None, bool(here.guard))
        key = (made.version, who, is_confirmed(), links_here(), said_here())
        page = self._kept(key)
        if page is None:
            with self._making:
                page = self._kept(key)
                if page is None:
                    page = contextvars.copy_context().run(self._rendered, made.view, here)
                    self._keep(key, page)
        return page if here is None else page.replace(_GUARD, escape(here.guard))

    def _kept(self, key: Hashable) -> str | None:
        with self._lock:
            return self._pages.get(key)

    def _keep(self, key: tuple[Hashable, ...], page: str) -> None:
        with self._lock:
            if self._made is not None and self._made.version == key[0] and len(self._pages) < _MOST_KEPT:
                self._pages[key] = page

    def _rendered(self, view: PageView, here: Visitor | None) -> str:
        said = said_here()
        if here is not None and here.guard:
            visit(replace(here, guard=_GUARD), confirmed=is_confirmed())
        return render("status.html", view=view, said=said, **self._links)

    def _now(self) -> _Made:
        overview = self._overview()
        with self._lock:
            made = self._made
        if made is None or made.overview is not overview:
            made = self._take_in(overview)
        return made

    def _take_in(self, overview: Overview) -> _Made:
        with self._making:
            with self._lock:
                made = self._made
            if made is not None and made.overview is overview:
                return made
            view = replace(page_view(overview), review_due=self._due())
            made = _Made(overview, view, view.version)
            with self._lock:
                # Where nothing has changed that is seen, the pages are the same too.
                if self._made is None or self._made.version != made.version:
                    self._pages = {}
                self._made = made
        return made
