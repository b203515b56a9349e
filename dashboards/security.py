"""What a browser may do with these pages: nothing from outside, nothing inline, no framing."""

from collections.abc import Callable, Mapping

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SECURITY_HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": (
        "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
}
STRICT_TRANSPORT = "max-age=31536000"
"""A year, in seconds (RFC 6797). Other names of the same domain may be somebody else's, so nothing is said of them."""


class SecurityHeaders:
    """Adds the headers to every answer, and forbids storing, where an answer does not say otherwise.

    Whoever came by https is to come by it from then on; `is_https` is asked with the scheme and the Host header.

    Plain ASGI, since a wrapper that collects the answer would hold back an event stream.
    """

    def __init__(self, app: ASGIApp, is_https: Callable[[str, str], bool]) -> None:
        self._app = app
        self._is_https = is_https

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and mark the start of the answer."""

        async def marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in SECURITY_HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
                if self._is_https(scope["scheme"], Headers(scope=scope).get("host", "")):
                    headers.setdefault("Strict-Transport-Security", STRICT_TRANSPORT)
            await send(message)

        await self._app(scope, receive, marked if scope["type"] == "http" else send)
