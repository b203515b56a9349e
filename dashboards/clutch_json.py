"""Clutches as JSON: the values of the list and of one page, each with its unit in its name. Always °C."""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar

from pydantic import BaseModel

from daemon.clutch_record_values import (
    AlsoStated,
    Climate,
    ClosedClutch,
    ClutchRecord,
    EggsAndCheck,
    OtherClutch,
)
from dashboards.api_values import ClutchJson, Json
from dashboards.clutch_list import ClutchListView
from dashboards.paging import PageJson
from dashboards.rounds_json import PhotoJson, photo_json

_Model = TypeVar("_Model", bound=BaseModel)
_CLOSED = "closed"


class EggsJson(Json):
    """How many eggs of a clutch are what. `lost` were removed; `left_in_place` are those of them still in the box."""

    total: int
    sound: int
    watch: int
    lost: int
    pipped: int
    hatched: int
    given_away: int
    left_in_place: int


class ClutchRowJson(Json):
    """A clutch of the list. `limits_state`: how the climate of its place stands, in the words of the page.

    `next_check_ms`: when it is to be seen again; null where no check is due. `next_check_why`: what was found in its
    box, where that is before its time. `venomous`: trained handlers
    alone go near it. `dam` and `sire` are empty where nobody stated them.
    """

    clutch: ClutchJson
    place_name: str
    limits_state: str
    closed_at_ms: int | None
    eggs: EggsJson | None
    next_check_ms: int | None
    next_check_why: list[str]
    dam: str
    sire: str
    tags: list[str]
    venomous: bool


class ClutchListJson(Json):
    """The clutches that were asked for, in that order; `notice` says which wish could not be met."""

    clutches: list[ClutchRowJson]
    notice: str


class ClosedClutchesJson(PageJson):
    """A page of closed clutches, the one that was closed last first; each as it was when it was closed."""

    clutches: list[ClutchRowJson]


class HeatPointJson(Json):
    """Heat from laying to a moment, and between what it lies at about 95 %."""

    at_ms: int
    low_ch: float
    best_ch: float
    high_ch: float


class CellJson(Json):
    """What was read in a stretch of time, calibrated: °C or % RH."""

    start_ms: int
    end_ms: int
    least: float
    mean: float
    most: float
    gap_before: bool


class LimitSpanJson(Json):
    """The limits of a stretch of time, °C or % RH."""

    start_ms: int
    end_ms: int
    low: float | None
    high: float | None
    lethal_low: float | None
    lethal_high: float | None


class ClutchClimateJson(Json):
    """Air temperature (°C) or humidity (% RH) where the clutch lay; hours are reckoned by means of ten minutes."""

    cells: list[CellJson]
    limits: list[LimitSpanJson]
    probes: list[str]
    hours_read: float
    hours_unread: float
    hours_below: float
    hours_above: float
    is_behind: bool
    why_empty: str


class StayJson(Json):
    """Where it lay, from when until when; `end_ms` is null while it lies there."""

    place: str
    name: str
    from_ms: int
    end_ms: int | None


class ClutchEventJson(Json):
    """Something that happened; `goes_on` where it began and has not ended."""

    at_ms: int
    kind: str
    what: str
    why: str
    end_ms: int | None
    goes_on: bool


class ChangeJson(Json):
    """One entry of the change log; `old` and `new` hold what was changed."""

    at_ms: int
    who: str
    what: str
    why: str
    old: dict[str, Any]
    new: dict[str, Any]


class ClutchRecordJson(Json):
    """Everything that is known of one clutch. A closed one is shown as it was when it was closed (`shown_ms`).

    `venomous`: trained handlers alone go near it. `protected`: what the law asks of its keeper, in their words.
    `photos` in the order in which they came.
    """

    now_ms: int
    shown_ms: int
    closed_at_ms: int | None
    clutch: ClutchJson
    place_name: str
    eggs: EggsJson | None
    next_check_ms: int | None
    next_check_why: list[str]
    note: str
    population: str | None
    dam: str
    sire: str
    found_ms: int | None
    tags: list[str]
    venomous: bool
    protected: str
    heat: list[HeatPointJson]
    temperature: ClutchClimateJson
    humidity: ClutchClimateJson
    stays: list[StayJson]
    events: list[ClutchEventJson]
    alarms_left_out: int
    changes: list[ChangeJson]
    photos: list[PhotoJson]


def clutch_list_json(view: ClutchListView, stated: Mapping[int, AlsoStated]) -> ClutchListJson:
    """Give the rows of the list their JSON form; `stated` has what else the register knows, by number."""
    rows = [
        _row(OtherClutch(row.now, row.place, row.closed_at_ms), row.mark.word, row.told, stated.get(row.clutch_id))
        for row in view.rows
    ]
    return ClutchListJson(clutches=rows, notice=view.notice)


def closed_clutches_json(shown: Sequence[ClosedClutch], next_page: str | None) -> ClosedClutchesJson:
    """Give a page of closed clutches its JSON form."""
    rows = [_row(each.other, _CLOSED, each.told, each.also) for each in shown]
    return ClosedClutchesJson(clutches=rows, next=next_page)


def _row(clutch: OtherClutch, limits_state: str, told: EggsAndCheck, also: AlsoStated | None) -> ClutchRowJson:
    also = also or AlsoStated()
    return ClutchRowJson(
        clutch=ClutchJson.model_validate(clutch.clutch),
        place_name=clutch.place_name,
        limits_state=limits_state,
        closed_at_ms=clutch.closed_at_ms,
        eggs=None if told.eggs is None else EggsJson.model_validate(told.eggs),
        next_check_ms=told.next_check_ms,
        next_check_why=list(told.why),
        dam=also.dam,
        sire=also.sire,
        tags=list(also.tags),
        venomous=also.venomous,
    )


def clutch_record_json(record: ClutchRecord) -> ClutchRecordJson:
    """Give a record its JSON form."""
    return ClutchRecordJson(
        now_ms=record.now_ms,
        shown_ms=record.shown_ms,
        closed_at_ms=record.closed_at_ms,
        clutch=ClutchJson.model_validate(record.clutch),
        place_name=record.place_name,
        eggs=None if record.told.eggs is None else EggsJson.model_validate(record.told.eggs),
        next_check_ms=record.told.next_check_ms,
        next_check_why=list(record.told.why),
        note=record.note,
        population=record.population,
        dam=record.also.dam,
        sire=record.also.sire,
        found_ms=record.also.found_ms,
        tags=list(record.also.tags),
        venomous=record.also.venomous,
        protected=record.also.protected,
        heat=_all(HeatPointJson, record.heat),
        temperature=_climate(record.temperature),
        humidity=_climate(record.humidity),
        stays=_all(StayJson, record.stays),
        events=_all(ClutchEventJson, record.events),
        alarms_left_out=record.alarms_left_out,
        changes=[
            ChangeJson(
                at_ms=each.at_ms,
                who=each.who,
                what=each.what,
                why=each.why,
                old=_fields(each.old),
                new=_fields(each.new),
            )
            for each in record.changes
        ],
        photos=[photo_json(each) for each in record.photos],
    )


def _all(model: type[_Model], values: Iterable[object]) -> list[_Model]:
    return [model.model_validate(each) for each in values]


def _climate(climate: Climate) -> ClutchClimateJson:
    return ClutchClimateJson.model_validate(climate)


def _fields(text: str) -> dict[str, Any]:
    try:
        stored = json.loads(text)
    except ValueError:
        return {}
    return stored if isinstance(stored, dict) else {}
