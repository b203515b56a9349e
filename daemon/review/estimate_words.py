"""Pure: what the course inside a gap rests on, in sentences."""

from daemon.review.gap_values import Around, HeatOff
from daemon.review.passive import FastestRise, Passive


def reason(
    around: Around,
    passive: Passive | None,
    rise: FastestRise | None,
    heat_off: HeatOff | None,
    faster: bool,
    hotter: bool,
) -> str:
    """Say what the bounds rest on and do not cover. `faster`, `hotter`: how the reading after contradicts them."""
    known = (
        "Nobody knows what the heating did in this gap; the best estimate is a straight line between both readings."
        if heat_off is None
        else f"{heat_off.evidence} Without heat it follows its room."
    )
    if heat_off is None and (around.before is None or around.after is None):
        known = "Nobody knows what the heating did in this gap, and there is a reading on one side of it at most."
    return " ".join([known, _cold(around, passive, faster), _hot(around, passive, rise, heat_off, hotter)])


def _cold(around: Around, passive: Passive | None, faster: bool) -> str:
    if passive is None:
        return "Unknown below: the temperature of the room is neither measured nor stated."
    if faster:
        return (
            "It was colder after the gap than it can have cooled by itself, so a door was open, or the room was colder "
            "than it seems; the lower bound is the coldest that the room or the readings were."
        )
    if passive.constants_h is None or around.before is None:
        return "It was not colder than the room; how fast this incubator cools is not known yet."
    shortest_h, constant_h, longest_h = passive.constants_h
    return (
        f"The lower bound is cooling without heat, with a time constant of {constant_h:.1f} h ({shortest_h:.1f} to "
        f"{longest_h:.1f} h); a door that was opened and closed again is not covered."
    )


def _hot(
    around: Around, passive: Passive | None, rise: FastestRise | None, heat_off: HeatOff | None, hotter: bool
) -> str:
    if heat_off is not None and around.before is not None and passive is not None:
        return "The upper bound is the slowest cooling towards the warmest room, until the heat came back."
    if hotter:
        return "It was hotter after the gap than this heater was ever seen to heat, so that says nothing of the gap."
    if rise is not None and around.before is not None:
        return "The upper bound is the fastest rise that was ever measured here, going on for all of the gap."
    if around.after is not None and passive is not None and passive.constants_h is not None:
        return "The upper bound is what can have cooled down to the reading after; the heater was never seen at work."
    return "Unknown above: nothing that was measured says how hot it can have been."
