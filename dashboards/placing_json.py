"""Places compared for a clutch, as JSON: the best first. What nobody measured is null, never 0."""

from pydantic import BaseModel, ConfigDict

from daemon.placement.advice import Advice, Option, development_a_day


class _Json(BaseModel):
    model_config = ConfigDict(frozen=True, from_attributes=True)


class HoursADayJson(_Json):
    """Hours of a mean day: as in the known time, and were all unknown time inside the limits, or outside."""

    best: float
    low: float
    high: float


class StayJson(_Json):
    """What was measured there: between `p5_c` and `p95_c` for nine tenths of the time; `rate_k` is heat an hour."""

    known_h: float
    asked_h: float
    below: HoursADayJson
    above: HoursADayJson
    outside: HoursADayJson
    lethal: HoursADayJson
    mean_c: float
    p5_c: float
    p95_c: float
    least_c: float
    most_c: float
    rate_k: float | None


class PlaceJson(_Json):
    """One place. `free`: where in it a clutch can go; `conflicts`: neighbours that no climate suits as well."""

    place: str
    name: str
    is_here: bool
    stay: StayJson | None
    unknown: str
    probe: str
    development_a_day: float | None
    free: list[str]
    neighbours: list[str]
    conflicts: list[str]


class PlacementJson(_Json):
    """All places for one clutch, with its limits now; `clutch_id` is null for one that is not entered yet."""

    now_ms: int
    days: int
    clutch_id: int | None
    label: str
    species_id: str
    low_c: float | None
    high_c: float | None
    lethal_low_c: float | None
    lethal_high_c: float | None
    venomous: bool
    places: list[PlaceJson]


def placement_json(advice: Advice) -> PlacementJson:
    """Everything of one comparison."""
    limits = advice.needs.limits
    return PlacementJson(
        now_ms=advice.now_ms,
        days=advice.days,
        clutch_id=advice.clutch_id,
        label=advice.label,
        species_id=advice.needs.species_id,
        low_c=limits.low_c,
        high_c=limits.high_c,
        lethal_low_c=limits.lethal_low_c,
        lethal_high_c=limits.lethal_high_c,
        venomous=advice.venomous,
        places=[_place(each, advice) for each in advice.options],
    )


def _place(option: Option, advice: Advice) -> PlaceJson:
    return PlaceJson(
        place=option.place,
        name=option.name,
        is_here=option.is_here,
        stay=None if option.stay is None else StayJson.model_validate(option.stay),
        unknown=option.unknown,
        probe=option.measured_by,
        development_a_day=development_a_day(advice.needs, option.stay),
        free=[path for path, _ in option.free],
        neighbours=list(option.neighbours),
        conflicts=list(option.conflicts),
    )
