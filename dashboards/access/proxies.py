"""Behind a proxy with TLS, the proxy and the machine itself alone reach the pages: others would come in the clear."""

import ipaddress

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send

_OPEN = "/health"
"""Holds no secret, and a watcher on another machine may ask past the proxy."""


class ProxiesAlone:
    """Plain ASGI, before whatever believes what a proxy says of who asks.

    `proxies`: their addresses and networks. `public_url`: where the proxy answers.
    """

    def __init__(self, app: ASGIApp, proxies: tuple[str, ...], public_url: str) -> None:
        self._app = app
        self._networks = tuple(ipaddress.ip_network(each, strict=False) for each in proxies)
        self._public_url = public_url

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what comes from a proxy."""
        if scope["type"] == "http" and scope["path"] != _OPEN:
            client = scope.get("client")
            address = str(client[0]) if client else ""
            if not self._are_let_in(address):
                await self._refusal(address)(scope, receive, send)
                return
        await self._app(scope, receive, send)

    def _are_let_in(self, address: str) -> bool:
        try:
            found = ipaddress.ip_address(address.partition("%")[0])
        except ValueError:
            return False
        if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is not None:
            found = found.ipv4_mapped
        return found.is_loopback or any(found in network for network in self._networks)

    def _refusal(self, address: str) -> PlainTextResponse:
        return PlainTextResponse(
            f"These pages are reached by https alone, at {self._public_url}/ - here a password could be read on the "
            f"way.\nIf {address} is the proxy itself, add it to trusted_proxies under [web] in settings.toml.\n",
            403,
        )
