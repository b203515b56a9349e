"""What a period did to each place: measured and estimated courses, held against the limits of what lay there."""

import sqlite3
from collections.abc import Iterator, Sequence

from config.places import Places
from config.site import Site
from daemon.alarms.limits import Limits
from daemon.occupancy import Occupancy, stays
from daemon.review.course import GapKind
from daemon.review.gap_values import HeatOff
from daemon.review.place import LimitInForce, LimitKind, LimitReview, PlaceReview
from daemon.review.values import Span
from daemon.review.verdict import judge
from daemon.review_records import PlaceRecords
from daemon.thermometers import AirChannels


def place_reviews(
    conn: sqlite3.Connection,
    site: Site,
    air: AirChannels,
    occupancy: Occupancy,
    bridge_ms: int,
    span: Span,
    now_ms: int,
    heat_off: Sequence[HeatOff] = (),
) -> tuple[PlaceReview, ...]:
    """Give what a period did to each place that has a probe of its own or in which eggs lay, in the order of the site.

    Parameters
    ----------
    conn
        One moment of the journal.
    air
        Loaded from that moment.
    occupancy
        All clutches that lay there in the period, closed ones too, with the beginnings of their stages.
    bridge_ms
        Two readings further apart have a gap between them (`heat.longest_bridge_s`).
    span, now_ms
        The period; what lies after now is left out.
    heat_off
        Over which spans there is evidence that the heat was off, and where.

    Raises ValueError for a period that ends before it begins, or begins in the future.
    """
    return reviews_of(PlaceRecords(conn, site, air, bridge_ms, heat_off), occupancy, span, now_ms)


def reviews_of(records: PlaceRecords, occupancy: Occupancy, span: Span, now_ms: int) -> tuple[PlaceReview, ...]:
    """Give the same by records that others read too. Raises ValueError as `place_reviews`."""
    from_ms, to_ms = span.from_ms, min(span.until(now_ms), now_ms)
    if to_ms <= from_ms:
        raise ValueError(f"A period from {from_ms} to {to_ms} ms has no length that has passed.")
    lain = {
        stay.place
        for clutch in occupancy.clutches
        for stay, end_ms in stays(clutch)
        if stay.from_ms < to_ms and end_ms > from_ms
    }
    places, air = Places(records.site), records.air
    told = [
        place for place in places.all if place in lain or place in air.channel_at or records.humidity_channel(place)
    ]
    return tuple(_review(records, places.name(place), place, air, occupancy, from_ms, to_ms) for place in told)


def _review(
    records: PlaceRecords, name: str, place: str, air: AirChannels, occupancy: Occupancy, from_ms: int, to_ms: int
) -> PlaceReview:
    warm, humid = records.temperature(place, from_ms, to_ms), records.humidity(place, from_ms, to_ms)
    channel = next(iter(air.channels_for.get(place, ())), "")
    humidity_channel = records.humidity_channel(place)
    lowest, highest = records.extremes(channel, from_ms, to_ms) or (None, None)
    driest, dampest = records.extremes(humidity_channel, from_ms, to_ms) or (None, None)
    limits: list[LimitReview] = []
    for kind, in_force in _in_force(occupancy, place, from_ms, to_ms):
        limits.append(judge(kind, in_force, humid if kind.is_humidity else warm))
    return PlaceReview(
        place=place,
        name=name,
        channel=channel,
        own_probe=air.channel_at.get(place, "") == channel != "",
        span=Span(from_ms, to_ms),
        measured_ms=warm.own_ms,
        other_ms=warm.other_ms,
        gap_ms=sum(course.length_ms for course in warm.gaps if course.kind is not GapKind.OTHER_PROBE),
        lowest=lowest,
        highest=highest,
        gaps=warm.gaps,
        limits=tuple(limits),
        humidity_channel=humidity_channel,
        lowest_humidity=driest,
        highest_humidity=dampest,
        humidity_gaps=humid.gaps if humidity_channel else (),
    )


def _in_force(
    occupancy: Occupancy, place: str, from_ms: int, to_ms: int
) -> Iterator[tuple[LimitKind, tuple[LimitInForce, ...]]]:
    """Each kind of limit that held over any of the period, with its figures in order of time."""
    found: dict[LimitKind, list[LimitInForce]] = {}
    at_ms = from_ms
    while at_ms < to_ms:
        end_ms = min(occupancy.unchanged(at_ms)[1], to_ms)
        for kind, value in _figures(occupancy.limits(place, at_ms)).items():
            spans = found.setdefault(kind, [])
            if value is None:
                continue
            if spans and spans[-1].value == value and spans[-1].span.to_ms == at_ms:
                spans[-1] = LimitInForce(Span(spans[-1].span.from_ms, end_ms), value)
            else:
                spans.append(LimitInForce(Span(at_ms, end_ms), value))
        at_ms = end_ms
    for kind in LimitKind:
        if found.get(kind):
            yield kind, tuple(found[kind])


def _figures(limits: Limits) -> dict[LimitKind, float | None]:
    return {
        LimitKind.LETHAL_LOW: limits.lethal_low_c,
        LimitKind.LOW: limits.low_c,
        LimitKind.HIGH: limits.high_c,
        LimitKind.LETHAL_HIGH: limits.lethal_high_c,
        LimitKind.HUMIDITY_LOW: limits.humidity_low_pct,
        LimitKind.HUMIDITY_HIGH: limits.humidity_high_pct,
    }
