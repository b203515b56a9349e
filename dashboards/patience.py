"""How long the pages wait for somebody who is slow: each open connection costs a descriptor that an alert may need."""

import asyncio
import logging
import time
from enum import Enum
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from daemon.bounded_loop import BoundedLoop

HEAD_S = 10.0
BODY_S = 20.0
READING_S = 60.0
"""So long may take: the head of a request as a whole; a pause within its body; a pause in which whoever asked takes
nothing of the answer. An event stream, which is an answer that goes on, has no end. Project choices."""


_TOLD_EVERY_S = 600.0


class _Seldom(logging.Filter):
    """Lets each sentence of the server through once in a while: strangers can make it say some for ever."""

    def __init__(self) -> None:
        super().__init__()
        self._told_s: dict[str, float] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """True where it is time again. An error is always told."""
        if record.levelno >= logging.ERROR:
            return True
        now_s, before_s = time.monotonic(), self._told_s.get(str(record.msg))
        if before_s is not None and now_s - before_s < _TOLD_EVERY_S:
            return False
        self._told_s[str(record.msg)] = now_s
        return True


# The sentences of the server are fixed, so that there are only a few.
logging.getLogger("uvicorn.error").addFilter(_Seldom())


class _Awaited(Enum):
    HEAD = "head"
    BODY = "body"


class PatientProtocol(H11Protocol):
    """HTTP/1.1 (RFC 9112) as the server has it, which cuts off whoever sends nothing or takes nothing for too long."""

    head_s, body_s, reading_s = HEAD_S, BODY_S, READING_S

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.client_and_port: object = None
        self._awaited: _Awaited | None = None
        self._until: asyncio.TimerHandle | None = None
        self._stalled: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as its base has it
        """Begin to wait for the head."""
        super().connection_made(transport)
        self.client_and_port = transport.get_extra_info("peername")
        self._look()

    def data_received(self, data: bytes) -> None:
        """Take what came, and wait on. A head may come byte by byte and still has to be whole in time."""
        super().data_received(data)
        self._look(has_moved=True)
        if self.cycle is not None and not self.cycle.response_complete and isinstance(self.loop, BoundedLoop):
            self.loop.busy(self.client_and_port)

    def on_response_complete(self) -> None:
        """Wait for the next request by the server's own rule."""
        super().on_response_complete()
        if isinstance(self.loop, BoundedLoop) and (self.cycle is None or self.cycle.response_complete):
            self.loop.idle(self.client_and_port)
        self._look()

    def pause_writing(self) -> None:
        """Wait until whoever asked takes more of the answer."""
        super().pause_writing()
        if self._stalled is None:
            self._stalled = self.loop.call_later(self.reading_s, self._cut)

    def resume_writing(self) -> None:
        """Wait no longer."""
        super().resume_writing()
        if self._stalled is not None:
            self._stalled.cancel()
            self._stalled = None

    def connection_lost(self, exc: Exception | None) -> None:
        """End all waiting."""
        for timer in (self._until, self._stalled):
            if timer is not None:
                timer.cancel()
        self._until = self._stalled = None
        super().connection_lost(exc)

    def _look(self, *, has_moved: bool = False) -> None:
        awaited = self._what_is_awaited()
        if awaited is self._awaited and not (has_moved and awaited is _Awaited.BODY):
            return
        if self._until is not None:
            self._until.cancel()
        self._awaited, self._until = awaited, None
        if awaited is not None:
            seconds = self.head_s if awaited is _Awaited.HEAD else self.body_s
            self._until = self.loop.call_later(seconds, self._out_of_patience)

    def _what_is_awaited(self) -> _Awaited | None:
        if self.transport.is_closing() or self.timeout_keep_alive_task is not None:
            return None
        if self.conn.their_state is h11.IDLE:
            return _Awaited.HEAD
        return _Awaited.BODY if self.conn.their_state is h11.SEND_BODY else None

    def _out_of_patience(self) -> None:
        if self._awaited is _Awaited.BODY and self.flow.read_paused:
            # It is ourselves who do not read just now.
            self._until = self.loop.call_later(self.body_s, self._out_of_patience)
        else:
            self._cut()

    def _cut(self) -> None:
        self.transport.abort()
