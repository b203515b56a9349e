"""What somebody has just done is on the next page that they see, however lately the one before was made."""

from collections.abc import Callable

from starlette.types import ASGIApp, Message, Receive, Scope, Send

_ONLY_READS = ("GET", "HEAD", "OPTIONS")


class SeenAtOnce:
    """Has what pages keep dropped before the answer to anything that may change something. Plain ASGI."""

    def __init__(self, app: ASGIApp, forget: Callable[[], None]) -> None:
        self._app = app
        self._forget = forget

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on."""

        async def answered(message: Message) -> None:
            if message["type"] == "http.response.start":
                self._forget()
            await send(message)

        changes = scope["type"] == "http" and scope["method"] not in _ONLY_READS
        await self._app(scope, receive, answered if changes else send)
