"""The address that a metrics collector asks: OpenMetrics where it says that it reads it, else the older text format."""

import re
from collections.abc import Callable, Iterator

from fastapi import APIRouter, Request, Response
from prometheus_client import CollectorRegistry, Metric
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4, generate_latest
from prometheus_client.openmetrics import exposition as openmetrics
from prometheus_client.registry import Collector

from daemon.inside import Inside
from daemon.overview import Overview
from dashboards.metrics import metrics_of
from dashboards.source import Source

_OPENMETRICS = "application/openmetrics-text"
_PLAIN = "text/plain"
_TEXT = {"schema": {"type": "string"}}
_CONTENT: dict[int | str, dict[str, object]] = {
    200: {"description": "All families of metrics.", "content": {_OPENMETRICS: _TEXT, _PLAIN: _TEXT}}
}


class _Watched(Collector):
    """Asks for each scrape; nothing is kept in between, so what is gone leaves no series behind."""

    def __init__(self, overview: Callable[[], Overview], inside: Callable[[], Inside]) -> None:
        self._overview = overview
        self._inside = inside

    def collect(self) -> Iterator[Metric]:
        """Give every family. Raises NothingToShowError."""
        yield from metrics_of(self._overview(), self._inside())


def metrics_router(overview: Callable[[], Overview], inside: Callable[[], Inside]) -> APIRouter:
    """Make the route."""
    router = APIRouter()
    registry = CollectorRegistry(auto_describe=False)
    registry.register(_Watched(overview, Source(inside)))

    @router.get(
        "/metrics",
        summary="Everything as metrics",
        tags=["Service"],
        response_class=Response,
        responses=_CONTENT,
    )
    def metrics(request: Request) -> Response:
        """Readings, dew points, clutches, alarms and the daemon itself, for a program that collects metrics."""
        if _reads_openmetrics(request.headers.get("accept", "")):
            found = openmetrics.generate_latest(registry)  # type: ignore[no-untyped-call]
            return Response(found, media_type=openmetrics.CONTENT_TYPE_LATEST)
        return Response(generate_latest(registry), media_type=CONTENT_TYPE_PLAIN_0_0_4)

    return router


def _reads_openmetrics(accept: str) -> bool:
    """True where the header names it. The library's own choice fails on an odd version, and gives back what it is told.

    Whoever refuses it in so many words (`q=0`) gets the other one.
    """
    for each in accept.lower().split(","):
        name, *parameters = (part.strip() for part in each.split(";"))
        if name == _OPENMETRICS:
            return not any(re.fullmatch(r"q=0(\.0*)?", part) for part in parameters)
    return False
