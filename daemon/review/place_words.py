"""Pure: what a period did to a place, in sentences that somebody who was not there understands."""

import math
from collections.abc import Iterator

from daemon.alarms.figures import duration_text
from daemon.review.course import GapCourse, GapKind
from daemon.review.gap_values import Known
from daemon.review.place import LimitKind, LimitReview, PlaceReview
from daemon.review.telling import ABOUT_95, Telling, counted, degree_hours_of, listed, time_of
from daemon.review.values import Verdict

VERDICT_WORDS = {Verdict.IN: "kept", Verdict.OUT: "not kept", Verdict.UNKNOWN: "cannot be told"}
LIMIT_WORDS = {
    LimitKind.LETHAL_LOW: "Lethal limit of cold",
    LimitKind.LOW: "Lower limit",
    LimitKind.HIGH: "Upper limit",
    LimitKind.LETHAL_HIGH: "Lethal limit of heat",
    LimitKind.HUMIDITY_LOW: "Lower limit of humidity",
    LimitKind.HUMIDITY_HIGH: "Upper limit of humidity",
}
_BEYOND = {True: "above it", False: "below it"}
TOLD_GAPS = 3
"""So many gaps of a place are told one by one, the longest; the rest is counted. Project choice."""
_SAME_K = 0.05
AS_AROUND = "It is estimated as where the probe is, and the bounds are wider by what two places may differ."
NO_HUMIDITY = "No probe measures the humidity here, so whether its limits were kept cannot be told."


def place_sentences(review: PlaceReview, telling: Telling) -> tuple[str, ...]:
    """Tell what was measured, what nobody measured, and how each limit was kept."""
    return (
        *_measured(review, telling),
        *_gaps(review, telling),
        *_humid(review, telling),
        *_limits(review, telling),
    )


def _measured(review: PlaceReview, telling: Telling) -> Iterator[str]:
    if review.lowest is None or review.highest is None:
        yield "No temperature was measured here in this time."
        return
    where = f"by {review.channel}" if review.own_probe else f"around it, by {review.channel} (no probe is in it)"
    low, high = (_read(each, telling) for each in (review.lowest, review.highest))
    yield f"Measured {where}: lowest {low}, highest {high}."


def _read(known: Known, telling: Telling) -> str:
    return f"{telling.temperature(known.temperature_c)} ({telling.moment(known.at_ms)})"


def _gaps(review: PlaceReview, telling: Telling) -> Iterator[str]:
    """The longest ones in order of time, and how many more there are."""
    gaps = review.gaps
    own = [gap for gap in gaps if gap.kind is not GapKind.OTHER_PROBE]
    told = sorted(sorted(own, key=lambda gap: -gap.length_ms)[:TOLD_GAPS], key=lambda gap: gap.span.from_ms)
    for gap in told:
        # What the bounds rest on is told once, where the probe is.
        yield gap_sentences(gap, telling, gap.reason if review.own_probe else AS_AROUND)
    if len(own) > len(told):
        rest = sum(gap.length_ms for gap in own) - sum(gap.length_ms for gap in told)
        more = counted(len(own) - len(told), "shorter gap")
        yield f"And {more}, {duration_text(rest)} together."
    other_ms = sum(gap.length_ms for gap in gaps if gap.kind is GapKind.OTHER_PROBE)
    if other_ms and own:
        yield f"For {duration_text(other_ms)} more only a probe around it was read, which is less certain."


def gap_sentences(gap: GapCourse, telling: Telling, how: str) -> str:
    """Tell of a gap: when, the readings on both sides, how cold and hot it can have been, and how that is known."""
    begin = f"Nobody measured {telling.span(gap.span)}."
    before = (
        "There was no reading before"
        if gap.before is None
        else f"The last reading before: {_read(gap.before, telling)}"
    )
    after = "none has come since" if gap.after is None else f"the first after: {_read(gap.after, telling)}"
    return " ".join([begin, f"{before}; {after}.", _coldest(gap, telling), _hottest(gap, telling), how])


def _coldest(gap: GapCourse, telling: Telling) -> str:
    low, best, high = gap.coldest_c
    if math.isinf(low):
        return "How cold it was there nobody can tell."
    if high - low < _SAME_K:
        return f"At its coldest it was {telling.temperature(low)}, as estimated."
    likely = "" if best is None else f"most likely {telling.temperature(best)}, and "
    if math.isinf(high):
        return f"At its coldest it was {likely}{ABOUT_95} not below {telling.temperature(low)}, as estimated."
    return (
        f"At its coldest it was {likely}{ABOUT_95} between {telling.temperature(low)} and {telling.temperature(high)}, "
        "as estimated."
    )


def _hottest(gap: GapCourse, telling: Telling) -> str:
    high = gap.hottest_c.high
    if math.isinf(high):
        return "How hot it was there nobody can tell."
    return f"At its hottest it was {ABOUT_95} not above {telling.temperature(high)}."


def _humid(review: PlaceReview, telling: Telling) -> Iterator[str]:
    low, high = review.lowest_humidity, review.highest_humidity
    if low is None or high is None:
        return
    unread_ms = sum(gap.length_ms for gap in review.humidity_gaps)
    unread = f" Nobody measured it for {duration_text(unread_ms)}, of which nothing is estimated." if unread_ms else ""
    figures = [
        f"{word} {telling.value(each.temperature_c, humidity=True)} ({telling.moment(each.at_ms)})"
        for word, each in (("lowest", low), ("highest", high))
    ]
    yield f"Humidity by {review.humidity_channel}: {', '.join(figures)}.{unread}"


def _limits(review: PlaceReview, telling: Telling) -> Iterator[str]:
    if not review.limits:
        yield "No limit held here in this time: nothing lay here, or nothing is stated for what did."
        return
    known = [one for one in review.limits if review.humidity_channel or not one.kind.is_humidity]
    for one in known:
        yield limit_sentence(one, telling)
    if len(known) < len(review.limits):
        yield NO_HUMIDITY


def limit_sentence(one: LimitReview, telling: Telling) -> str:
    """Say of one limit whether it was kept, and if not for how long and by how much."""
    figures = [telling.value(each.value, humidity=one.kind.is_humidity) for each in one.in_force]
    figure = ", then ".join(dict.fromkeys(figures)) if len(set(figures)) <= TOLD_GAPS else listed(figures)
    begin = f"{LIMIT_WORDS[one.kind]}, {figure}: {VERDICT_WORDS[one.verdict]}."
    beyond = _BEYOND[one.kind.is_above]
    if one.verdict is Verdict.IN:
        return begin
    if one.verdict is Verdict.UNKNOWN:
        most = duration_text(math.ceil(one.outside_ms.high))
        return f"{begin} Nothing measured is {beyond}; where nobody measured it can have been for up to {most}."
    area = "" if one.degree_hours is None else f", {degree_hours_of(one.degree_hours)} {beyond}"
    return (
        f"{begin} It was {beyond} for {time_of(one.outside_ms)}{area}; the longest time without coming back was "
        f"{time_of(one.longest_run_ms)}."
    )
