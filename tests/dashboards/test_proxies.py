"""Behind a proxy with TLS nobody else on the net is answered."""

import asyncio

import httpx
import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from dashboards.access.proxies import ProxiesAlone

PUBLIC_URL = "https://eggs.example.org"


async def told(request: Request) -> PlainTextResponse:
    return PlainTextResponse(f"{request.url.scheme} {request.client.host if request.client else ''}")


def ask(peer: str, path: str = "/", proxies: tuple[str, ...] = ("10.0.0.5", "fd00::/8")) -> httpx.Response:
    app = ProxiesAlone(Starlette(routes=[Route("/", told), Route("/health", told)]), proxies, PUBLIC_URL)

    async def get() -> httpx.Response:
        transport = httpx.ASGITransport(app, client=(peer, 1234))
        async with httpx.AsyncClient(transport=transport, base_url="http://192.0.2.1") as client:
            return await client.get(path)

    return asyncio.run(get())


@pytest.mark.parametrize("peer", ["10.0.0.5", "::ffff:10.0.0.5", "fd00::7", "127.0.0.1", "::1"])
def test_the_proxy_and_the_machine_itself_are_answered(peer: str) -> None:
    assert ask(peer).status_code == 200


@pytest.mark.parametrize("peer", ["192.168.1.20", "10.0.0.6", "fe80::1%eth0", "", "somebody"])
def test_nobody_else_is_and_hears_where_to_go(peer: str) -> None:
    answer = ask(peer)
    assert answer.status_code == 403
    assert PUBLIC_URL in answer.text
    assert "trusted_proxies" in answer.text


def test_health_holds_no_secret_and_is_answered() -> None:
    assert ask("192.168.1.20", "/health").status_code == 200
