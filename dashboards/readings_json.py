"""Readings as they were stored, as JSON: columns, since one object for each would repeat all names with each. Pure."""

from collections.abc import Sequence

from config.words import Quantity
from daemon.chart_reader import OriginalReadings
from daemon.reports.csv_lines import quality_word
from dashboards.api_values import Json
from dashboards.paging import PageJson
from dashboards.series_json import UNITS


class ReadingColumnsJson(Json):
    """Readings in order of time: of each when it was measured, what the probe said, and its quality (0: it is good)."""

    measured_at_ms: list[int]
    value: list[float]
    quality: list[int]


class CorrectionJson(Json):
    """From this moment on a reading means `gain` times `value` plus `shift`, in the unit of the channel."""

    from_ms: int
    gain: float
    shift: float


class ReadingsJson(PageJson):
    """A page of the readings of a channel, as they were stored. They are never changed and never removed.

    `unit` as in SenML (RFC 8428): Cel, %RH, or / for a contact that is 0 or 1. `quality_words` says of each quality
    that occurs what is wrong. `corrections` come from calibrations, and may change with a later one. A contact has
    none, and neither has a channel that the site has no more: what its calibrations said is not given.
    """

    channel: str
    quantity: Quantity
    unit: str
    from_ms: int
    until_ms: int
    readings: ReadingColumnsJson
    quality_words: dict[int, str]
    corrections: list[CorrectionJson]


def readings_json(
    channel: str,
    span_ms: tuple[int, int],
    found: OriginalReadings,
    shown: Sequence[tuple[int, float, int]],
    next_page: str | None,
) -> ReadingsJson:
    """Give a page its JSON form; the library need not check each number of what was made here."""
    at_ms, value, quality = (list(each) for each in zip(*shown, strict=True)) if shown else ([], [], [])
    return ReadingsJson(
        channel=channel,
        quantity=found.quantity,
        unit=UNITS[found.quantity],
        from_ms=span_ms[0],
        until_ms=span_ms[1],
        readings=ReadingColumnsJson.model_construct(measured_at_ms=at_ms, value=value, quality=quality),
        quality_words={each: quality_word(each) for each in sorted(set(quality))},
        corrections=[CorrectionJson.model_validate(each) for each in found.corrections],
        next=next_page,
    )
