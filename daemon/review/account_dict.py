"""Pure: the account of a period for programs: times RFC 3339 in UTC, degree Celsius, no infinite number."""

import math
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from daemon.review.account import ClutchAccount, PlaceAccount, Review, ToldLine
from daemon.review.clutch_heat import HatchShift
from daemon.review.course import GapCourse
from daemon.review.gap_values import Known
from daemon.review.place import LimitReview
from daemon.review.values import Bounds, Fact, Incident, Span

FORMAT = "clutchwarden-review-1"


def review_dict(review: Review) -> dict[str, Any]:
    """Give all of it. A field that is added leaves `format` as it is."""
    return {
        "format": FORMAT,
        "site": review.site_name,
        "time_zone": review.time_zone,
        "made_at": utc(review.now_ms),
        "period": span_dict(review.period),
        "incident": None if review.incident is None else incident_dict(review.incident),
        "asked_number": review.asked_number,
        "other_incidents": [each.incident_id for each in review.others],
        "going_on": review.is_going_on,
        "waits_for_review": review.waits_for_review,
        "heading": review.heading,
        "summary": list(review.summary),
        "places": [_place(each) for each in review.places],
        "clutches": [_clutch(each) for each in review.clutches],
        "room": review.room,
        "earlier": list(review.earlier),
        "told": [_told(each) for each in review.told],
        "blind": {
            "total_ms": review.blind.total_ms,
            "share": review.blind.share,
            "probe_ms": dict(review.blind.probe_ms),
            "stretches": [
                {"kind": each.kind, **span_dict(each.span), "subject": each.subject, "place": each.place}
                for each in review.blind.stretches
            ],
            "words": review.blind.words,
        },
        "todo": [
            {"text": each.text, "about": each.about, "source": each.source, "first": each.first} for each in review.todo
        ],
        "not_known": list(review.not_known),
        "notes": [
            {"field": each.field, "at": utc(each.at_ms), "who": each.who, "text": each.text} for each in review.notes
        ],
        "timeline": [
            {"at": utc(each.at_ms), "kind": each.kind, "place": each.place, "words": each.words}
            for each in review.timeline
        ],
        "chain_code": review.chain_code,
    }


def incident_dict(incident: Incident) -> dict[str, Any]:
    """Give an incident with its facts."""
    return {
        "number": incident.incident_id,
        **span_dict(incident.span),
        "cause": incident.cause,
        "evidence": list(incident.evidence),
        "places": list(incident.places),
        "review": incident.review,
        "facts": [_fact(each) for each in incident.facts],
    }


def span_dict(span: Span) -> dict[str, Any]:
    """Give a stretch; `until` is null where it is not over."""
    return {"since": utc(span.from_ms), "until": None if span.to_ms is None else utc(span.to_ms)}


def utc(at_ms: int) -> str:
    """`2026-05-14T02:11:00.000Z`."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def bounds_dict(bounds: Bounds | None) -> dict[str, float | None] | None:
    """Give an interval; null for an end that nothing bounds."""
    return None if bounds is None else {key: finite(value) for key, value in bounds._asdict().items()}


def finite(value: float | None) -> float | None:
    """A number, or null for one that is none or infinite."""
    return None if value is None or not math.isfinite(value) else value


def _fact(fact: Fact) -> dict[str, Any]:
    said = {"place": fact.place, "subject": fact.subject, "words": fact.words, "critical": fact.critical}
    return {"kind": fact.kind, **span_dict(fact.span), **said}


def _place(account: PlaceAccount) -> dict[str, Any]:
    found = account.review
    return {
        "place": found.place,
        "name": found.name,
        "channel": found.channel,
        "own_probe": found.own_probe,
        "verdict": found.verdict,
        "measured_ms": found.measured_ms,
        "other_ms": found.other_ms,
        "gap_ms": found.gap_ms,
        "lowest": _known(found.lowest, "temperature_c"),
        "highest": _known(found.highest, "temperature_c"),
        "lowest_humidity": _known(found.lowest_humidity, "relative_humidity_pct"),
        "highest_humidity": _known(found.highest_humidity, "relative_humidity_pct"),
        "gaps": [_gap(each) for each in found.gaps],
        "limits": [_limit(each) for each in found.limits],
        "words": list(account.words),
    }


def _known(known: Known | None, unit: str) -> dict[str, Any] | None:
    return None if known is None else {"at": utc(known.at_ms), unit: known.temperature_c}


def _gap(gap: GapCourse) -> dict[str, Any]:
    return {
        "kind": gap.kind,
        **span_dict(gap.span),
        "before": _known(gap.before, "temperature_c"),
        "after": _known(gap.after, "temperature_c"),
        "coldest_c": bounds_dict(gap.coldest_c),
        "hottest_c": bounds_dict(gap.hottest_c),
        "heat_back_at": None if gap.heat_back_ms is None else utc(gap.heat_back_ms),
        "contradiction": gap.contradiction,
        "reason": gap.reason,
        "course": {
            "at": [utc(round(float(each))) for each in gap.at_ms],
            **{
                name: [finite(float(each)) for each in values]
                for name, values in (("low_c", gap.low_c), ("best_c", gap.best_c), ("high_c", gap.high_c))
            },
        },
    }


def _limit(limit: LimitReview) -> dict[str, Any]:
    return {
        "kind": limit.kind,
        "in_force": [{**span_dict(each.span), "value": each.value} for each in limit.in_force],
        "verdict": limit.verdict,
        "outside_ms": bounds_dict(limit.outside_ms),
        "degree_hours_ch": bounds_dict(limit.degree_hours),
        "longest_run_ms": bounds_dict(limit.longest_run_ms),
        "reason": limit.reason,
    }


def _clutch(account: ClutchAccount) -> dict[str, Any]:
    found = account.review
    heat: Mapping[str, Any] | None = None
    if found.heat is not None:
        heat = {
            "gained_ch": bounds_dict(found.heat.gained_ch),
            "expected_ch": finite(found.heat.expected_ch),
            "lost_ch": bounds_dict(found.heat.lost_ch),
            "lost_h": bounds_dict(found.heat.lost_h),
        }
    return {
        "clutch": found.clutch_id,
        "label": found.label,
        "venomous": found.venomous,
        "lain": [{"place": each.place, **span_dict(Span(each.from_ms, each.to_ms))} for each in found.lain],
        "heat": heat,
        "shift_days": bounds_dict(found.shift.days) if isinstance(found.shift, HatchShift) else None,
        "exposures": [
            {
                "above": each.tolerance.is_above,
                "figure_c": each.tolerance.figure_c,
                "lethal": each.tolerance.is_lethal,
                "verdict": each.verdict,
                "hours": bounds_dict(each.hours),
                "source": each.tolerance.source,
            }
            for each in found.exposures
        ],
        "words": list(account.words),
        "advice": [{"text": each.text, "source": each.source, "first": each.first} for each in account.advice],
    }


def _told(line: ToldLine) -> dict[str, Any]:
    moments: Sequence[tuple[str, int | None]] = (("accepted_at", line.accepted_ms), ("seen_at", line.seen_ms))
    return {
        "made_at": utc(line.made_ms),
        "contact": line.contact,
        "who": line.who,
        "about": line.about,
        "fate": line.fate,
        "attempts": line.attempts,
        **{name: None if at_ms is None else utc(at_ms) for name, at_ms in moments},
        "seen_by": line.seen_by,
        "called": line.called,
        "words": line.words,
    }
