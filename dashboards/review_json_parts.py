"""Places and clutches of an account as JSON: each value with its unit in its name. Pure."""

import math
from collections.abc import Iterable
from typing import Annotated

from pydantic import BeforeValidator

from dashboards.api_values import Json


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _finite_all(values: Iterable[float]) -> list[float | None]:
    return [_finite(float(each)) for each in values]


Finite = Annotated[float | None, BeforeValidator(_finite)]
"""Null where nothing bounds it, or nothing speaks for one value."""
Curve = Annotated[list[float | None], BeforeValidator(_finite_all)]
Moments = Annotated[list[int], BeforeValidator(lambda values: [round(float(each)) for each in values])]


class BoundsJson(Json):
    """An interval of about 95 %, and the best estimate; null for an end that nothing bounds, or for no best one."""

    low: Finite
    best: Finite
    high: Finite


class SpanJson(Json):
    """A stretch of time; `to_ms` is null where it is not over."""

    from_ms: int
    to_ms: int | None


class KnownJson(Json):
    """A reading beside a gap, or an extreme: of temperature in °C, of humidity in per cent."""

    at_ms: int
    value: float


class GapJson(Json):
    """What a place can have been where nobody measured: three curves over the same moments, in °C."""

    kind: str
    span: SpanJson
    at_ms: Moments
    low_c: Curve
    best_c: Curve
    high_c: Curve
    coldest_c: BoundsJson
    hottest_c: BoundsJson
    heat_back_ms: int | None
    reason: str


class LimitInForceJson(Json):
    """A figure of a limit, °C or per cent, and when it held."""

    span: SpanJson
    value: float


class LimitReviewJson(Json):
    """One limit of a place. `verdict` is `in`, `out` or `unknown`; `degree_hours` in °C·h is null for humidity."""

    kind: str
    in_force: list[LimitInForceJson]
    verdict: str
    outside_ms: BoundsJson
    degree_hours: BoundsJson | None
    longest_run_ms: BoundsJson
    first_out_ms: int | None
    last_out_ms: int | None
    reason: str


class PlaceReviewJson(Json):
    """One place. `channel` speaks for it, empty where none does; `own_probe`: it is in the place itself."""

    place: str
    name: str
    channel: str
    own_probe: bool
    verdict: str
    measured_ms: int
    other_ms: int
    gap_ms: int
    lowest: KnownJson | None
    highest: KnownJson | None
    lowest_humidity: KnownJson | None
    highest_humidity: KnownJson | None
    gaps: list[GapJson]
    limits: list[LimitReviewJson]
    words: list[str]


class HeatLossJson(Json):
    """Development over the period, °C·h; `lost_h` in hours at the pace of before, null where there was none."""

    gained_ch: BoundsJson
    expected_ch: float
    lost_ch: BoundsJson
    lost_h: BoundsJson | None
    missing_h: float


class ToleranceJson(Json):
    """What a species stands, and who says so. `within_h` is null for a lethal limit, of which no time is told."""

    figure_c: float
    is_above: bool
    hours: float
    within_h: int | None
    source: str
    is_published: bool


class ExposureJson(Json):
    """A tolerance, and the hours beyond it."""

    tolerance: ToleranceJson
    hours: BoundsJson
    verdict: str


class AdviceJson(Json):
    """One thing to do or to know, with its source; `first`: before everything else."""

    text: str
    source: str
    first: bool


class ClutchReviewJson(Json):
    """One clutch. `later_days`: by how much it hatches later, negative for earlier; null where there is no date."""

    clutch_id: int
    label: str
    species_name: str
    egg_count: int
    venomous: bool
    caution: str
    place: str
    heat: HeatLossJson | None
    later_days: BoundsJson | None
    exposures: list[ExposureJson]
    words: list[str]
    advice: list[AdviceJson]
