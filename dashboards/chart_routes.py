"""Addresses of the charts: the page, the data behind it as JSON, and the same as CSV. A GET changes nothing."""

from collections.abc import Sequence
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse, JSONResponse, Response

from daemon.chart_reader import ChartReader
from daemon.series import Series
from dashboards.chart_request import SEASON, USUAL_PERIOD, Asked, AskedError, UnknownChannelError, asked, known, period
from dashboards.charts import DRAWN_BUCKETS, Typed, channel_name, charts_view, usual_channels
from dashboards.plotly_script import plotly_address, plotly_router
from dashboards.rendering import render
from dashboards.security import SECURITY_HEADERS
from dashboards.series_json import ErrorJson, SeriesJson, series_csv, series_json
from dashboards.source import Source

Channels = Annotated[
    list[str], Query(alias="channel", description="A channel such as north-air/t; may be given up to 20 times.")
]
Start = Annotated[
    str,
    Query(
        alias="from",
        description="UTC milliseconds, an RFC 3339 time, or local time of the site; else a day before the end.",
    ),
]
End = Annotated[str, Query(alias="until", description="The same; else now. Readings before this moment are given.")]
Width = Annotated[str, Query(description="At most so many stretches of time, 1 to 2000.")]
_CSP = "Content-Security-Policy"
_WITH_PICTURES = {_CSP: f"{SECURITY_HEADERS[_CSP]}; img-src 'self' blob:"}
"""To save a chart as a picture the script makes it out of a blob of its own, on this page alone."""
_NO_ANSWER: dict[int | str, dict[str, object]] = {
    422: {"model": ErrorJson, "description": "What is wrong with the wish."}
}
_TEXT = {"text/csv": {"schema": {"type": "string"}}}
_CSV: dict[int | str, dict[str, object]] = {**_NO_ANSWER, 200: {"content": _TEXT}}


def charts_router(reader: ChartReader) -> APIRouter:
    """Make the routes, and with them that of the drawing library's script."""
    router = APIRouter()
    router.include_router(plotly_router())
    _add_page(router, reader)
    _add_series(router, reader)
    return router


def _add_page(router: APIRouter, reader: ChartReader) -> None:
    season = Source(reader.season_from_ms)

    @router.api_route("/charts", methods=["GET", "HEAD"], response_class=HTMLResponse, include_in_schema=False)
    def charts_page(
        channel: Annotated[list[str], Query()] = [],  # noqa: B006 - the framework copies it
        period_name: Annotated[str, Query(alias="period")] = USUAL_PERIOD,
        start: Annotated[str, Query(alias="from")] = "",
        end: Annotated[str, Query(alias="until")] = "",
    ) -> HTMLResponse:
        now_ms, site = reader.now_ms(), reader.site
        typed = Typed(tuple(channel) or usual_channels(site), period_name, start, end)
        try:
            channels = known(site, typed.channels)
            season_from_ms = season() if period_name == SEASON else 0
            span = period(period_name, start, end, ZoneInfo(site.time_zone), season_from_ms, now_ms)
        except AskedError as error:
            view = charts_view(site, typed, (), now_ms, error)
            status = 404 if isinstance(error, UnknownChannelError) else 422
            return HTMLResponse(render("charts.html", view=view, plotly=""), status)
        read = _read(reader, Asked(channels, *span, DRAWN_BUCKETS))
        view = charts_view(site, typed, read, now_ms)
        return HTMLResponse(render("charts.html", view=view, plotly=plotly_address()), headers=_WITH_PICTURES)


def _add_series(router: APIRouter, reader: ChartReader) -> None:
    site = reader.site
    zone = ZoneInfo(site.time_zone)
    channels = {each.channel: each for each in site.channels}
    names = {each.channel: channel_name(each) for each in site.channels}

    @router.get(
        "/api/series",
        summary="Readings over a period",
        tags=["Readings"],
        response_model=SeriesJson,
        responses=_NO_ANSWER,
    )
    def api_series(channel: Channels = [], start: Start = "", end: End = "", width: Width = "600") -> Response:  # noqa: B006
        """Up to 20 channels as stretches of time with least, mean and most of the good readings; spikes survive."""
        try:
            wanted = asked(site, channel, start, end, width, reader.now_ms())
        except AskedError as error:
            return JSONResponse({"detail": str(error)}, 422)
        found = series_json(_read(reader, wanted), channels, names, zone, site.bridge_ms)
        return Response(found.model_dump_json(), media_type="application/json")

    @router.get(
        "/api/series.csv",
        summary="Readings over a period as CSV",
        tags=["Readings"],
        response_class=Response,
        responses=_CSV,
    )
    def api_series_csv(channel: Channels = [], start: Start = "", end: End = "", width: Width = "2000") -> Response:  # noqa: B006
        """The same stretches as one table (RFC 4180), with the moments in UTC and on the clock of the site."""
        try:
            wanted = asked(site, channel, start, end, width, reader.now_ms())
        except AskedError as error:
            return JSONResponse({"detail": str(error)}, 422)
        return Response(
            series_csv(_read(reader, wanted), channels, zone),
            media_type="text/csv",
            headers={"Content-Disposition": 'attachment; filename="readings.csv"'},
        )


def _read(reader: ChartReader, wanted: Asked) -> Sequence[Series]:
    """Read, with the log and the page that every other page has where the journal cannot be read."""
    return Source(lambda: reader.read(wanted.channels, wanted.from_ms, wanted.until_ms, wanted.width))()
