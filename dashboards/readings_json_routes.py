"""The address of readings as they were stored, one channel over any period, by pages. A GET changes nothing."""

from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response

from daemon.chart_reader import ChartReader
from dashboards.alarm_answer import asked
from dashboards.chart_request import AskedError, stretch
from dashboards.paging import PageWish, page_wish, paged, wrong
from dashboards.readings_json import ReadingsJson, readings_json

_SHOWN, _MOST = 1_000, 10_000
_LONGEST_CHANNEL = 200
_Page = Annotated[PageWish, Depends(page_wish(_SHOWN, _MOST, ["channel", "from", "until"]))]
_Channel = Annotated[str, Query(max_length=_LONGEST_CHANNEL, description="A channel such as north-air/t; needed.")]
_From = Annotated[
    str,
    Query(
        alias="from",
        description="UTC milliseconds, an RFC 3339 time, or local time of the site; else a day before the end.",
    ),
]
_Until = Annotated[str, Query(description="The same; else now. Readings before this moment are given.")]


def readings_json_router(reader: ChartReader) -> APIRouter:
    """Make the route."""
    router = APIRouter(tags=["Readings"])
    zone = ZoneInfo(reader.site.time_zone)

    @router.get("/api/readings", summary="Readings as they were stored", **paged(ReadingsJson))
    def api_readings(page: _Page, channel: _Channel = "", start: _From = "", until: _Until = "") -> Response:
        """Every reading of one channel over any period, in order of time, as the probe said it, by pages.

        One that comes late, because a broker or a probe kept it, is at its place in time: whoever has passed there
        already asks for that period once more.
        """
        try:
            from_ms, until_ms = stretch(start, until, zone, reader.now_ms())
        except AskedError as error:
            raise wrong(error.field, str(error)) from None
        begin_ms = from_ms if page.number is None else min(page.number + 1, until_ms)
        found = asked(lambda: reader.originals(channel, begin_ms, until_ms, page.limit + 1))
        if found is None:
            raise wrong("channel", "There never was such a channel here; /api/probes lists those that there are")
        pinned = page.of(channel=channel, until=until_ms, **{"from": from_ms})
        shown, later = pinned.cut(found.rows, lambda each: each[0])
        return page.answer(readings_json(channel, (from_ms, until_ms), found, shown, later))

    return router
