"""The answer to an address that is none: a person gets a page with a way back, a program what it always gets."""

from http import HTTPStatus

from fastapi import FastAPI, Request
from fastapi.exception_handlers import http_exception_handler
from fastapi.responses import HTMLResponse, Response
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException

from dashboards.nav_here import nearest_page
from dashboards.rendering import render

_UNROUTED = HTTPStatus.NOT_FOUND.phrase
"""What stands in an answer that no route has written."""


def lead_back(app: FastAPI) -> None:
    """Let an app answer so."""
    app.add_exception_handler(HTTPException, _answer)


async def _answer(request: Request, error: Exception) -> Response:
    found = error if isinstance(error, HTTPException) else HTTPException(HTTPStatus.INTERNAL_SERVER_ERROR)
    is_unrouted = found.status_code == HTTPStatus.NOT_FOUND and found.detail == _UNROUTED
    if not is_unrouted or not _wants_page(request.scope["path"], request.headers):
        return await http_exception_handler(request, found)
    path = nearest_page(request.app, request.scope["path"])
    name = "To the first page" if path == "/" else f"To {path}"
    return HTMLResponse(render("not_found.html", what="page", path=path, back=name), HTTPStatus.NOT_FOUND)


def _wants_page(path: str, headers: Headers) -> bool:
    return not path.startswith(("/api/", "/static/")) and "text/html" in headers.get("accept", "")
