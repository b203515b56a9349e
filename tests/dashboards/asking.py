"""Ask an app without a server in between."""

import asyncio

import httpx
from fastapi import FastAPI

from daemon.overview import Messages, Overview
from dashboards.app import create_app
from dashboards.inbox import Inbox


def ask(
    app: FastAPI,
    path: str,
    method: str = "GET",
    content: bytes | None = None,
    headers: dict[str, str] | None = None,
) -> httpx.Response:
    async def asked() -> httpx.Response:
        transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://pages") as client:
            return await client.request(method, path, content=content, headers=headers)

    return asyncio.run(asked())


def pages(overview: Overview, inbox: Inbox | None = None, messages: Messages | None = None) -> FastAPI:
    return create_app(lambda: overview, inbox, None if messages is None else lambda _limit: messages)
