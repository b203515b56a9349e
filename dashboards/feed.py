"""Tells open pages that what they show has changed. A page that hears nothing knows that it is cut off."""

import asyncio
import logging
import threading
import time
from collections.abc import AsyncIterator, Callable

from fastapi.responses import PlainTextResponse, StreamingResponse
from starlette.concurrency import run_in_threadpool
from starlette.types import Receive, Scope, Send

from daemon.places import Bounds, Places
from dashboards.source import NothingToShowError
from dashboards.visiting import is_still_here, visitor_name

log = logging.getLogger("clutchwarden.pages")

POLL_S = 2.0
_STEP_S = 0.5
_FRESH_S = 1.0
MOST_STREAMS, MOST_OF_ONE_VISITOR = 150, 20
"""Each open page holds one, and a connection with it. Project choice."""
_places = Places(Bounds(MOST_STREAMS, MOST_OF_ONE_VISITOR))
_TOO_MANY = "As many pages as may be are kept up to date already. Close some; this one tries again by itself.\n"


class _Stream(StreamingResponse):
    """An open stream, for which there has to be a place: among all, and among those of one visitor."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        who = visitor_name("")
        if not _places.take(who):
            await PlainTextResponse(_TOO_MANY, 429, {"Retry-After": "30"})(scope, receive, send)
            return
        try:
            await super().__call__(scope, receive, send)
        finally:
            _places.leave(who)


class Feed:
    """A stream of server-sent events (HTML Living Standard, section 9.2) that ends when `closing` is set.

    `version` is asked at most once a second, however many pages are open. The events are `changed` with the version as
    data, and `same`; and `signed-out` at the end of a stream whose visitor is not let in any more. Where the version
    cannot be had, nothing is sent, so that pages say that they are cut off.
    """

    def __init__(self, version: Callable[[], str], closing: threading.Event) -> None:
        self._version = version
        self._closing = closing
        self._lock = threading.Lock()
        self._known: str | None = None
        self._asked_s = -_FRESH_S

    def response(self) -> StreamingResponse:
        """Open a stream for one page."""
        return _Stream(self._events(), media_type="text/event-stream", headers={"X-Accel-Buffering": "no"})

    def _current(self) -> str | None:
        with self._lock:
            if time.monotonic() - self._asked_s >= _FRESH_S:
                try:
                    self._known = self._version()
                except NothingToShowError:
                    self._known = None
                except Exception:
                    self._known = None
                    log.exception("The pages cannot be brought up to date; they say so until this works again")
                self._asked_s = time.monotonic()
            return self._known

    async def _events(self) -> AsyncIterator[str]:
        told: str | None = None
        yield "retry: 3000\n\n"
        while not self._closing.is_set():
            # Both in one: each way to a thread and back costs as much as what is asked there.
            is_here, version = await run_in_threadpool(lambda: (is_still_here(), self._current()))
            if not is_here:
                yield "event: signed-out\ndata: now\n\n"
                return
            if version is not None:
                yield f"event: {'same' if version == told else 'changed'}\ndata: {version}\n\n"
                told = version
            await self._pause()

    async def _pause(self) -> None:
        for _ in range(round(POLL_S / _STEP_S)):
            if self._closing.is_set():
                return
            await asyncio.sleep(_STEP_S)
