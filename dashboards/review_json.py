"""Incidents and accounts as JSON: each value with its unit in its name. Pure."""

from collections.abc import Collection, Sequence
from typing import Any

from daemon.review.account import Review
from daemon.review.clutch_heat import HatchShift
from daemon.review.values import Incident
from dashboards.api_values import Json
from dashboards.paging import PageJson
from dashboards.review_json_parts import ClutchReviewJson, PlaceReviewJson, SpanJson
from dashboards.review_list_view import standing_of


class FactJson(Json):
    """One thing that the journal shows. `place` is empty for the whole site; `critical`: of the highest priority."""

    kind: str
    span: SpanJson
    place: str
    subject: str
    words: str
    critical: bool


class IncidentJson(Json):
    """Facts that belong together. `why_review` is empty where nothing asks for a review; `state` as on the page."""

    number: int
    span: SpanJson
    cause: str
    evidence: list[str]
    places: list[str]
    why_review: str
    waits_for_review: bool
    state: str
    facts: list[FactJson]


class IncidentListJson(PageJson):
    """A page of incidents, the newest number first."""

    incidents: list[IncidentJson]


class ToldJson(Json):
    """One message, and what became of it: `seen_ms` is the first proof that somebody has seen it."""

    made_ms: int
    contact: str
    who: str
    about: str
    fate: str
    attempts: int
    accepted_ms: int | None
    seen_ms: int | None
    seen_by: str
    words: str


class BlindStretchJson(Json):
    """A stretch over which this program saw nothing, of all or of one channel."""

    kind: str
    span: SpanJson
    subject: str
    place: str
    words: str


class BlindJson(Json):
    """How long this program itself was blind; `share` is that part of the period, 0 to 1."""

    total_ms: int
    share: float
    stretches: list[BlindStretchJson]
    words: str


class ToDoJson(Json):
    """One thing to do now, for a clutch or place (`about`) or the whole."""

    text: str
    about: str
    source: str
    first: bool


class LineJson(Json):
    """One line of the timeline; `place` is empty for the whole site."""

    at_ms: int
    kind: str
    place: str
    words: str


class NoteJson(Json):
    """What somebody wrote: of each field (cause, action, outcome, prevention) the newest counts."""

    field: str
    at_ms: int
    who: str
    text: str


class ReviewJson(Json):
    """The account of an incident, or of a period, where `incident` is null. `others` are numbers of incidents in it."""

    heading: str
    period: SpanJson
    now_ms: int
    incident: IncidentJson | None
    others: list[int]
    summary: list[str]
    places: list[PlaceReviewJson]
    clutches: list[ClutchReviewJson]
    told: list[ToldJson]
    blind: BlindJson
    todo: list[ToDoJson]
    timeline: list[LineJson]
    not_known: list[str]
    notes: list[NoteJson]
    chain_code: str


def incident_json(incident: Incident, *, waits: bool) -> IncidentJson:
    """Give an incident."""
    return IncidentJson(
        number=incident.incident_id,
        span=SpanJson.model_validate(incident.span),
        cause=incident.cause,
        evidence=list(incident.evidence),
        places=list(incident.places),
        why_review=incident.review,
        waits_for_review=waits,
        state=standing_of(incident, waits=waits).word,
        facts=[FactJson.model_validate(each) for each in incident.facts],
    )


def incident_list_json(shown: Sequence[Incident], waiting: Collection[int], next_page: str | None) -> IncidentListJson:
    """Give a page of incidents; `waiting` are the numbers of those that wait for a review."""
    incidents = [incident_json(each, waits=each.incident_id in waiting) for each in shown]
    return IncidentListJson(incidents=incidents, next=next_page)


def review_json(review: Review) -> ReviewJson:
    """Give an account."""
    incident = review.incident
    return ReviewJson.model_validate(
        {
            **{name: getattr(review, name) for name in _AS_THEY_ARE},
            "incident": None if incident is None else incident_json(incident, waits=review.waits_for_review),
            "others": [each.incident_id for each in review.others],
            "places": [_place(each.review, each.words) for each in review.places],
            "clutches": [_clutch(each.review, each.words, each.advice) for each in review.clutches],
        }
    )


_AS_THEY_ARE = (
    *("heading", "period", "now_ms", "summary", "told", "blind", "todo"),
    *("timeline", "not_known", "notes", "chain_code"),
)
_EXTREMES = ("lowest", "highest", "lowest_humidity", "highest_humidity")


def _place(place: Any, words: Sequence[str]) -> dict[str, Any]:
    same = set(PlaceReviewJson.model_fields) - {*_EXTREMES, "words"}
    extremes = {
        name: None if known is None else {"at_ms": known.at_ms, "value": known.temperature_c}
        for name in _EXTREMES
        for known in (getattr(place, name),)
    }
    return {**{name: getattr(place, name) for name in same}, **extremes, "words": words}


def _clutch(clutch: Any, words: Sequence[str], advice: Sequence[Any]) -> dict[str, Any]:
    same = set(ClutchReviewJson.model_fields) - {"later_days", "words", "advice"}
    later = clutch.shift.days if isinstance(clutch.shift, HatchShift) else None
    return {**{name: getattr(clutch, name) for name in same}, "later_days": later, "words": words, "advice": advice}
