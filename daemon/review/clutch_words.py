"""What a period did to a clutch, in sentences that a tired keeper understands. Pure.

Heat stays in °C·h whatever unit the site shows, since profiles and papers state it so; temperatures follow the site.
"""

import math
from collections.abc import Iterator
from datetime import UTC, datetime, tzinfo

from config.words import Quantity
from daemon.alarms.figures import clock_text, value_text
from daemon.development.window import NoWindow
from daemon.review.clutch import WORTH_TELLING_H, ClutchReview
from daemon.review.clutch_air import BoxAir
from daemon.review.clutch_exposure import Exposure
from daemon.review.clutch_heat import BEFORE_DAYS, Before, HatchShift, HeatLoss, best_of
from daemon.review.values import Bounds, Verdict

NO_PUBLISHED_FIGURE = "no published figure"
_DAY_H = 24.0
_MOST_HOURS = 48.0
_SAME = 0.05
_LETHAL_NOT_TIMED = "no time is stated for it"


def clutch_sentences(review: ClutchReview, *, fahrenheit: bool, zone: tzinfo, now_ms: int) -> tuple[str, ...]:
    """Tell all that is known of a clutch over a period, except what to do (`clutch_advice`)."""
    return (
        _where(review, zone, now_ms),
        *_stage(review),
        *_measured(review, fahrenheit),
        *heat_sentences(review, fahrenheit=fahrenheit),
        shift_sentence(review.shift, zone),
        *exposure_sentences(review, fahrenheit=fahrenheit),
        *air_sentences(review.air),
    )


def _where(review: ClutchReview, zone: tzinfo, now_ms: int) -> str:
    stays = [
        f"{each.name} from {clock_text(each.from_ms, now_ms, zone)} to {clock_text(each.to_ms, now_ms, zone)}"
        for each in review.lain
    ]
    eggs = f"{review.egg_count} egg" + ("" if review.egg_count == 1 else "s")
    return f"{review.label}, {review.species_name}, {eggs}: lay in {', then '.join(stays)}."


def _stage(review: ClutchReview) -> Iterator[str]:
    stage = review.stage
    if stage is None:
        yield "How far its development was is not known."
        return
    if stage.share is not None:
        low, best, high = (100 * each for each in (stage.share.low, stage.share.best, stage.share.high))
        share = f"{best:.0f} % of its development was done ({low:.0f} to {high:.0f} %)"
        yield f"At the beginning {share}. Stage: {stage.reason}."
    else:
        yield f"How much of its development was done at the beginning is not known. Stage: {stage.reason}."


def _measured(review: ClutchReview, fahrenheit: bool) -> Iterator[str]:
    found = review.extremes
    if found is None or found.lowest_c is None or found.highest_c is None:
        yield "Nothing was measured where it lay."
    else:
        low, high = _t(found.lowest_c, fahrenheit), _t(found.highest_c, fahrenheit)
        where = "around where it lay" if found.by_other else "where it lay"
        yield f"Measured {where}: {low}." if low == high else f"Measured {where}: {low} to {high}."
    if found is None:
        return
    colder = found.lowest_c is None or found.coldest_possible_c < found.lowest_c
    warmer = found.highest_c is None or found.warmest_possible_c > found.highest_c
    parts = []
    if colder:
        bound = found.coldest_possible_c
        parts.append("nothing says how cold" if math.isinf(bound) else f"as cold as {_t(bound, fahrenheit)}")
    if warmer:
        bound = found.warmest_possible_c
        parts.append("nothing says how warm" if math.isinf(bound) else f"as warm as {_t(bound, fahrenheit)}")
    if parts:
        where = "In its own place, and where" if found.by_other else "Where"
        yield f"{where} no reading came, it may have been otherwise: {', and '.join(parts)}."


def heat_sentences(review: ClutchReview, *, fahrenheit: bool) -> Iterator[str]:
    """What it gained, what was to be expected, what is missing; or why no heat is counted."""
    loss = review.heat
    if loss is None:
        yield f"Development: not counted. {review.no_heat}"
        return
    unread = f" No reading covers {loss.missing_h:.1f} h of them." if loss.missing_h >= _SAME else ""
    yield (
        f"Development: in {loss.hours:.1f} h it gained {_interval(loss.gained_ch, 0)} °C·h, where "
        f"{loss.expected_ch:.0f} °C·h were to be expected.{unread}"
    )
    yield _lost(loss)
    yield _before(loss.before, fahrenheit)


def _lost(loss: HeatLoss) -> str:
    if loss.lost_h is None:
        return "At what it got before development stands still, so none can be lost."
    low, high, best = loss.lost_h.low, loss.lost_h.high, best_of(loss.lost_h)
    if low >= -WORTH_TELLING_H and high <= WORTH_TELLING_H:
        return "It lost no development worth telling: less than an hour of it."
    if low < 0 < high and abs(best) < WORTH_TELLING_H:
        return (
            f"Whether it lost development is not known: between {_hours(high)} lost and {_hours(-low)} gained, "
            "at its pace before."
        )
    if best < 0:
        gained = Bounds(-high, -best, -low)
        return f"It gained more than before, by {_hours_of(gained)} of development at its pace before."
    return f"Lost: {_interval(loss.lost_ch, 0)} °C·h, which it gains in {_hours_of(loss.lost_h)} at its pace before."


def _before(before: Before, fahrenheit: bool) -> str:
    mean = _t(before.temperature_c, fahrenheit)
    if before.is_measured:
        return (
            f"Before means: {mean} on average, over {before.measured_h:.0f} measured hours of the {BEFORE_DAYS} days "
            "before (a choice of this program)."
        )
    return (
        f"Before means: {mean}, the middle of what its species needs, since too little was measured in the "
        f"{BEFORE_DAYS} days before (a choice of this program)."
    )


def shift_sentence(shift: HatchShift | NoWindow, zone: tzinfo) -> str:
    """By how much it hatches later, with both dates; or why there is no date."""
    if isinstance(shift, NoWindow):
        return f"Hatch date: none that could move. {shift.reason}"
    best = best_of(shift.days)
    if max(abs(shift.days.low), abs(shift.days.high)) < _SAME:
        return f"Hatch date: stays as it was, most likely {_day(shift.after.likely_ms, zone)}."
    way = "later" if best >= 0 else "earlier"
    days = shift.days if best >= 0 else Bounds(-shift.days.high, -best, -shift.days.low)
    likely, without = _day(shift.after.likely_ms, zone), _day(shift.without.likely_ms, zone)
    instead = "as before" if likely == without else f"instead of {without}"
    # Of a shift below a day, tenths of days say nothing to anybody.
    hours = Bounds(days.low * _DAY_H, best_of(days) * _DAY_H, days.high * _DAY_H)
    by = f"{_interval(days, 1)} days" if max(abs(days.low), abs(days.high)) >= 1 else f"{_interval(hours, 1)} h"
    return (
        f"Hatch date: {by} {way}, if it is kept again as before. Most likely {likely} {instead}; "
        f"window "
        f"{_day(shift.after.earliest_ms, zone)} to {_day(shift.after.latest_ms, zone)}."
    )


def exposure_sentences(review: ClutchReview, *, fahrenheit: bool) -> Iterator[str]:
    """How long it was beyond each limit, against what its species stands, with sources."""
    for one in review.exposures:
        yield _exposed(one, fahrenheit)
    open_sides = [word for word, above in (("heat", True), ("cold", False)) if not review.has_published(above=above)]
    if open_sides:
        yield f"For how many hours these eggs stand {' or '.join(open_sides)}: {NO_PUBLISHED_FIGURE}."


def _exposed(one: Exposure, fahrenheit: bool) -> str:
    tolerance = one.tolerance
    side = "above" if tolerance.is_above else "below"
    figure = f"{side} {_t(tolerance.figure_c, fahrenheit)}"
    if tolerance.is_lethal:
        told = {
            Verdict.IN: f"Lethal limit: it was never {figure}.",
            Verdict.OUT: f"Lethal limit passed: {figure} for {_hours_of(one.hours)}; {_LETHAL_NOT_TIMED}.",
            Verdict.UNKNOWN: f"Lethal limit: not known whether it was {figure}; at most {_hours(one.hours.high)}, "
            "where no reading came.",
        }[one.verdict]
    else:
        stood = f"{tolerance.hours:.3g} h within {tolerance.within_h} h"
        told = {
            Verdict.IN: f"Exposure limit kept: {figure} for {_hours_of(one.hours)}; its species stands {stood}.",
            Verdict.OUT: f"Exposure limit passed: {figure} for {_hours_of(one.hours)}; its species stands {stood}.",
            Verdict.UNKNOWN: f"Exposure limit: not known whether it was passed; {figure} for at least "
            f"{_hours(one.hours.low)} and at most {_hours(one.hours.high)}; its species stands {stood}.",
        }[one.verdict]
    return f"{told} Source: {tolerance.source}."


def air_sentences(air: BoxAir) -> Iterator[str]:
    """Humidity in its box: the range, water on the lid, hours too dry; or that nothing measured it."""
    if air.why_not or air.lowest_pct is None or air.highest_pct is None:
        yield f"Humidity: {air.why_not or 'not measured'}."
        return
    low, high = f"{air.lowest_pct:.0f}", f"{air.highest_pct:.0f}"
    yield f"Humidity in its box: {low if low == high else f'{low} to {high}'} % in {air.covered_h:.1f} h with readings."
    if air.water is None:
        yield "Water on its lid: not known, the temperature of the lid is neither measured nor stated."
    else:
        certain_h, possible_h = air.water.certain_h, air.water.possible_h
        # A small chance at every moment adds up to some minutes where none of them may have been wet.
        water = Bounds(certain_h, min(max(air.water.expected_h, certain_h), possible_h), possible_h)
        unread = f"; {air.water.unknown_h:.1f} h were not read" if air.water.unknown_h >= _SAME else ""
        yield f"Water on its lid: {_hours_of(water)}{unread}."
    if air.dry is not None:
        figure = f"below {air.dry.low_pct:.0f} %"
        yield f"Too dry, {figure}: {_hours_of(air.dry.hours)}. Source of the limit: {air.dry.source}."


def _interval(bounds: Bounds, digits: int) -> str:
    """`86 (80 to 110)`; one number where the ends look like it."""
    best = best_of(bounds)
    low, mid, high = (f"{each:z.{digits}f}" for each in (bounds.low, best, bounds.high))
    if bounds.best is None:
        return f"{low} to {high}" if low != high else low
    return mid if low == mid == high else f"about {mid} ({low} to {high})"


def _hours_of(bounds: Bounds) -> str:
    """An interval of hours, in days where it is long; without a best estimate both ends alone."""
    in_days = max(abs(bounds.low), abs(bounds.high)) >= _MOST_HOURS
    scale, unit = (1 / _DAY_H, "days") if in_days else (1.0, "h")
    best = None if bounds.best is None else bounds.best * scale
    return f"{_interval(Bounds(bounds.low * scale, best, bounds.high * scale), 1)} {unit}"


def _hours(hours: float) -> str:
    return _hours_of(Bounds(hours, hours, hours))


def _day(moment_ms: int, zone: tzinfo) -> str:
    moment = datetime.fromtimestamp(moment_ms / 1000, UTC).astimezone(zone)
    return f"{moment.day} {moment:%b %Y}"


def _t(temperature_c: float, fahrenheit: bool) -> str:
    return value_text(temperature_c, Quantity.AIR_TEMPERATURE, fahrenheit)
