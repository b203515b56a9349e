"""The drawing library's script, as its wheel brings it: packed once, and kept by browsers for ever."""

import gzip
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, Response

PATH = "/static/plotly.min.js"
_LEVEL = 6
_HEADERS = {"Cache-Control": "public, max-age=31536000, immutable", "Vary": "Accept-Encoding"}


def plotly_address() -> str:
    """Give the address with a mark of its version; empty where the library is not installed."""
    return "" if _file() is None else f"{PATH}?v={_version()}"


def plotly_router() -> APIRouter:
    """Make the route. It has to stand before the mount of the static files, below which its path lies."""
    router = APIRouter(include_in_schema=False)

    @router.api_route(PATH, methods=["GET", "HEAD"])
    def script(request: Request) -> Response:
        file = _file()
        if file is None:
            return PlainTextResponse("The script is not installed.\n", 404)
        if "gzip" in request.headers.get("accept-encoding", ""):
            return Response(_packed(), media_type="text/javascript", headers={**_HEADERS, "Content-Encoding": "gzip"})
        return Response(file.read_bytes(), media_type="text/javascript", headers={**_HEADERS})

    return router


@cache
def _file() -> Path | None:
    """Find it without loading the library, which nothing here needs."""
    found = find_spec("plotly")
    if found is None or found.origin is None:
        return None
    file = Path(found.origin).parent / "package_data" / "plotly.min.js"
    return file if file.is_file() else None


@cache
def _version() -> str:
    try:
        return version("plotly")
    except PackageNotFoundError:
        return "0"


@cache
def _packed() -> bytes:
    file = _file()
    return b"" if file is None else gzip.compress(file.read_bytes(), _LEVEL)
