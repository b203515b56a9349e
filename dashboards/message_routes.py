"""Addresses of the page of messages: to read, and nothing to change."""

import threading
from collections.abc import Callable

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, StreamingResponse

from daemon.overview import Messages
from dashboards.feed import Feed
from dashboards.messages import NEWEST_SHOWN, MessagesJson, messages_json, messages_view
from dashboards.rendering import render
from dashboards.source import Source


def messages_router(messages: Callable[[int], Messages], closing: threading.Event) -> APIRouter:
    """Make the routes. Each asks once, for the newest messages."""
    router = APIRouter()
    source = Source(lambda: messages(NEWEST_SHOWN))
    feed = Feed(lambda: messages_view(source()).version, closing)

    @router.api_route("/messages", methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def messages_page() -> str:
        return render("messages.html", view=messages_view(source()))

    @router.get("/messages/events", include_in_schema=False)
    def messages_events() -> StreamingResponse:
        return feed.response()

    @router.get("/api/messages", summary="What became of the messages of the probes", tags=["Service"])
    def api_messages() -> MessagesJson:
        """How many messages ended how since the journal began, and the newest that could not be used, with why."""
        return messages_json(source())

    return router
