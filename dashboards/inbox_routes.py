"""Addresses of the inbox: a page to read, and the one place where these pages take something in."""

import threading
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import HTMLResponse, StreamingResponse
from pydantic import BaseModel

from dashboards.feed import Feed
from dashboards.inbox import LARGEST_BODY_BYTES, Inbox, InboxError, ReceivedMessage, read_message
from dashboards.inbox_view import inbox_view
from dashboards.rendering import render
from dashboards.series_json import ErrorJson

_BODY_SCHEMA = {
    "requestBody": {"required": True, "content": {"application/json": {"schema": ReceivedMessage.model_json_schema()}}}
}

_REFUSED: dict[int | str, dict[str, Any]] = {
    status: {"model": ErrorJson, "description": description}
    for status, description in (
        (400, "The message cannot be read; the text says which fields are wrong."),
        (413, "The message is too large."),
        (415, "The message is not sent as JSON."),
    )
}


class Receipt(BaseModel):
    """What the sender is told; `known` is true where the message had been received before."""

    message_id: str
    known: bool


async def _posted_message(request: Request) -> ReceivedMessage:
    """Read the message in the body; at most `LARGEST_BODY_BYTES` and one piece are ever held."""
    if request.headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
        raise HTTPException(415, "Send the message as JSON, with Content-Type: application/json.")
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > LARGEST_BODY_BYTES:
            raise HTTPException(413, f"The message is larger than {LARGEST_BODY_BYTES} bytes; send a shorter text.")
    try:
        return read_message(bytes(body))
    except InboxError as error:
        raise HTTPException(400, str(error)) from None


def inbox_router(inbox: Inbox, closing: threading.Event) -> APIRouter:
    """Make the routes of one inbox."""
    router = APIRouter()
    feed = Feed(lambda: inbox_view(inbox.messages(), inbox.time_zone).version, closing)

    @router.get("/inbox", response_class=HTMLResponse, include_in_schema=False)
    def inbox_page() -> str:
        return render("inbox.html", view=inbox_view(inbox.messages(), inbox.time_zone), zone=inbox.time_zone)

    @router.get("/inbox/events", include_in_schema=False)
    def inbox_events() -> StreamingResponse:
        return feed.response()

    @router.get("/api/inbox", summary="What the inbox of the demo holds", tags=["Demo"])
    def api_inbox() -> list[ReceivedMessage]:
        """The newest messages to people, the newest arrival first."""
        return list(inbox.messages())

    @router.post(
        "/inbox/messages",
        summary="Take a message in",
        tags=["Demo"],
        openapi_extra=_BODY_SCHEMA,
        responses=_REFUSED,
    )
    def receive(message: Annotated[ReceivedMessage, Depends(_posted_message)]) -> Receipt:
        """What the webhook of the demo sends here, in place of a phone. The same message twice is kept once."""
        return Receipt(message_id=message.message_id, known=not inbox.receive(message))

    return router
