"""How much may be sent to each address. Whoever sends more is told so, and no more than that is ever read."""

import re

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboards.forms import LARGEST_FORM_BYTES, LARGEST_UPLOAD_BYTES
from dashboards.register_paths import TABLE_PATH
from dashboards.rendering import render
from dashboards.rounds_paths import PHOTOS_PATH, ROUNDS_PATH

LIMITS: tuple[tuple[str, int], ...] = (
    # Files: read piece by piece, never held as a whole, and judged by their own rules once they are here.
    (re.escape(PHOTOS_PATH), LARGEST_UPLOAD_BYTES),
    (rf"{re.escape(ROUNDS_PATH)}/[^/]+/box/.+/photo", LARGEST_UPLOAD_BYTES),
    (re.escape(TABLE_PATH), LARGEST_UPLOAD_BYTES),
)
"""Bytes that may be sent to addresses of this form; everywhere else it is a form or a small JSON."""
USUAL_BYTES = LARGEST_FORM_BYTES
MOST_FILES_AT_ONCE = 6
"""Each is held in memory while it is taken in, and may keep a thread that other pages need. Project choice."""
TOO_LARGE = 413
"""Of RFC 9110 section 15.5.14."""
_HEARD_BYTES = 1_000_000
"""So much of what is too large is taken in and thrown away: a browser hears an answer only when it has sent all."""
_BUSY = "Nothing was done: several files are being taken in just now.", "Send it again in a minute."
_READS = ("GET", "HEAD")
_FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")


def most_bytes(path: str) -> int:
    """Give how much may be sent to an address, in bytes."""
    return next((most for form, most in LIMITS if re.fullmatch(form, path)), USUAL_BYTES)


class BodyLimits:
    """Refuses what is too large: at once where its length is stated, else as soon as it is. Plain ASGI.

    Of files only a few are taken in at once; whoever comes with one more is asked to come again.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._files = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, if it is small enough."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        most, headers = most_bytes(scope["path"]), Headers(scope=scope)
        if _stated_length(headers) > most:
            await _hear(receive)
            await _refusal(_words(most), headers, TOO_LARGE)(scope, receive, send)
        elif most == USUAL_BYTES or scope["method"] in _READS:
            await self._bounded(most, scope, receive, send)
        elif self._files >= MOST_FILES_AT_ONCE:
            await _hear(receive)
            await _refusal(_BUSY, headers, 503)(scope, receive, send)
        else:
            self._files += 1
            try:
                await self._bounded(most, scope, receive, send)
            finally:
                self._files -= 1

    async def _bounded(self, most: int, scope: Scope, receive: Receive, send: Send) -> None:
        heard = 0

        async def counted() -> Message:
            nonlocal heard
            message = await receive()
            heard += len(message.get("body", b""))
            if heard > most:
                raise HTTPException(TOO_LARGE, " ".join(_words(most)), {"Connection": "close"})
            return message

        try:
            await self._app(scope, counted, send)
        except ClientDisconnect:
            # Whoever sent it has gone in the middle of it, and waits for no answer.
            return


def _stated_length(headers: Headers) -> int:
    stated = headers.get("content-length", "")
    return int(stated) if stated.isascii() and stated.isdecimal() else 0


async def _hear(receive: Receive) -> None:
    heard = 0
    while heard <= _HEARD_BYTES:
        message = await receive()
        heard += len(message.get("body", b""))
        if message["type"] != "http.request" or not message.get("more_body"):
            return


def _refusal(lines: tuple[str, ...], headers: Headers, status: int) -> Response:
    more = {"Connection": "close"} if status == TOO_LARGE else {"Connection": "close", "Retry-After": "30"}
    if headers.get("content-type", "").split(";")[0].strip().lower() in _FORMS:
        return HTMLResponse(render("not_allowed.html", lines=lines), status, more)
    return JSONResponse({"detail": " ".join(lines), "result": "refused", "field": ""}, status, more)


def _words(most: int) -> tuple[str, str]:
    size = f"{most // 10**6} MB" if most >= 10**6 else f"{most // 1024} kB"
    return f"Nothing was done: more was sent than the {size} that this address takes.", "Send it again with less in it."
