"""What is told of a place for a clutch, in words: for the command and the page alike. Pure."""

from collections.abc import Callable

from daemon.placement.advice import Advice, Needs, Option, development_a_day
from daemon.placement.outside import HoursADay, Stay

NOT_ALL = (
    "Only the temperature of the air is compared, as measured: the humidity of a shelf is not that of a lidded box on "
    "it, and a box that comes in or goes changes both a little."
)
MOVE_CARE = "Carry the box level, and do not turn the eggs (common practice, no source)."
TRAINED_ONLY = "Venomous: trained handlers only. Nothing here asks you to move this box; go by your written protocol."
Celsius = Callable[[float], str]
"""Writes a temperature, °C, in the unit of the site."""
_LEAST_UNKNOWN_H = 0.5
_LEAST_TOLD_H = 0.05


def needs_text(needs: Needs, celsius: Celsius) -> str:
    """Say what the eggs need now: `24.0 °C to 30.0 °C, lethal at 33.0 °C`."""
    limits = needs.limits
    if limits.low_c is None or limits.high_c is None:
        return "no limits are known"
    told = f"{celsius(limits.low_c)} to {celsius(limits.high_c)}"
    lethal = [celsius(each) for each in (limits.lethal_low_c, limits.lethal_high_c) if each is not None]
    at = f", lethal at {' and '.join(lethal)}" if lethal else ""
    return f"{told}{at}{f' ({needs.stage})' if needs.stage else ''}"


def hours_text(hours: HoursADay, stay: Stay) -> str:
    """Write hours of a mean day: `2.4 h a day`; with what is possible where much is unknown."""
    told = f"{_number(hours.best)} h a day"
    if stay.unknown_h < _LEAST_UNKNOWN_H:
        return told
    return f"{told} ({_number(hours.low)} to {_number(hours.high)} with the unknown time)"


def outside_text(option: Option) -> str:
    """Say how long a place is outside the range, or that nobody knows."""
    stay = option.stay
    return option.unknown if stay is None else hours_text(stay.outside, stay)


def sides_text(stay: Stay) -> str:
    """Say on which side of the range it is outside; empty where on none."""
    sides = ((stay.below, "too cold"), (stay.above, "too warm"))
    return ", ".join(f"{_number(hours.best)} h {word}" for hours, word in sides if hours.best >= _LEAST_TOLD_H)


def lethal_text(stay: Stay) -> str:
    """Say that a place passes a lethal limit; empty where it never did."""
    if stay.lethal.best < _LEAST_TOLD_H:
        return ""
    return f"Past a lethal limit {hours_text(stay.lethal, stay)}: not for these eggs."


def peaks_text(stay: Stay, needs: Needs, celsius: Celsius) -> str:
    """Say that single readings passed a lethal limit although the means of ten minutes hardly did; else empty."""
    cold, hot = needs.bounds.lethal_low_c, needs.bounds.lethal_high_c
    passed = [
        celsius(value)
        for value, is_past in (
            (stay.least_c, cold is not None and stay.least_c <= cold),
            (stay.most_c, hot is not None and stay.most_c >= hot),
        )
        if is_past
    ]
    if not passed or lethal_text(stay):
        return ""
    return f"Single readings there passed a lethal limit: {' and '.join(passed)}."


def measured_text(stay: Stay, celsius: Celsius) -> str:
    """Say what was measured: mean, nine tenths of the time, extremes."""
    between = f"{celsius(stay.p5_c)} to {celsius(stay.p95_c)}"
    extremes = f"{celsius(stay.least_c)} to {celsius(stay.most_c)}"
    return f"Mean {celsius(stay.mean_c)}; nine tenths of the time {between}; least to most {extremes}."


def speed_text(needs: Needs, stay: Stay | None) -> str:
    """Say how fast the eggs would develop there; empty where nobody can tell."""
    share = development_a_day(needs, stay)
    if share is None:
        return ""
    if share <= 0:
        return "No development at what was measured there."
    return f"{100 * share:.1f} % of development a day: about {1 / share:.0f} days from laying to hatching."


def unknown_text(stay: Stay) -> str:
    """Say how much of the time nobody knows; empty where it is next to nothing."""
    if stay.unknown_h < _LEAST_UNKNOWN_H:
        return ""
    return f"Nothing is known of {stay.unknown_h:.0f} of {stay.asked_h:.0f} hours."


def neighbours_text(option: Option, celsius: Celsius) -> str:
    """Say who lies there, and what is left of all ranges together."""
    if not option.neighbours:
        return "No other clutch lies there."
    many = len(option.neighbours)
    who = f"{', '.join(option.neighbours[:6])}{f' and {many - 6} more' if many > 6 else ''}"  # noqa: PLR2004
    if option.band_c is None:
        return f"With {who}: no temperature suits all."
    return f"With {who}: {celsius(option.band_c[0])} to {celsius(option.band_c[1])} suits all."


def answer_text(advice: Advice) -> str:
    """Say in one sentence where a clutch would be least out of range."""
    known = [each for each in advice.options if each.stay is not None]
    if not known:
        return "Nobody knows: no place was measured long enough."
    with_room = [each for each in known if each.free or each.is_here]
    if not with_room:
        return "No place that is measured has room."
    best = with_room[0]
    # What the list has before it has no room: whoever reads both must not take one of them for a mistake.
    before = known[: known.index(best)]
    full = [each.name for each in before if not best.place.startswith(f"{each.place}/")]
    without_room = f" Before it in the list, but without a free box: {'; '.join(full)}." if full else ""
    if not best.conflicts:
        return f"{_best_text(best)}.{without_room}"
    alone = next((each for each in with_room if not each.conflicts), None)
    instead = f"Without one: {alone.name}." if alone is not None else "No place that has room is without one."
    return f"{_best_text(best)}, but beside a clutch that no climate suits as well. {instead}{without_room}"


def _best_text(option: Option) -> str:
    told = f"Best where it is: {option.name}" if option.is_here else f"Least out of range: {option.name}"
    stay = option.stay
    if stay is None or stay.is_well_known:
        return told
    return f"{told}, as far as was measured: nothing is known of {stay.unknown_h:.0f} of {stay.asked_h:.0f} hours"


def days_text(days: int) -> str:
    """Write `24 hours`, `7 days`."""
    return "24 hours" if days == 1 else f"{days} days"


def _number(hours: float) -> str:
    return "0" if hours < _LEAST_TOLD_H else f"{hours:.1f}"
