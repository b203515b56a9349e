"""Too long outside, added up over a day or two: an alarm for each clutch whose exposure limit is passed. Pure.

How the minutes are added up is in `daemon.development.exposure`. Time of which nothing is known neither raises the
alarm nor ends it. Once on, it ends when the minutes have fallen to nine tenths of the limit (project choice): where
heat comes each day at the same hour, as many minutes leave the window as enter it.
"""

from collections.abc import Iterable

from config.species import ExposureLimit
from config.words import AlarmKind, Quantity
from daemon.alarms.figures import duration_text, value_text
from daemon.development.exposure import Exposed, Judged, Verdict
from daemon.standing.found import Found

ENDS_AT_SHARE = 0.9
_MINUTE_MS = 60_000


def exposed_too_long(
    clutch_id: int,
    label: str,
    place: str,
    judged: Iterable[tuple[ExposureLimit, Exposed, Judged]],
    *,
    is_on: bool,
    fahrenheit: bool,
) -> Found | None:
    """Give the alarm of one clutch; None where all its limits are kept."""
    subject, reasons, unknown = f"clutch-{clutch_id}", [], False
    for limit, exposed, verdict in judged:
        ends_ms = limit.minutes * _MINUTE_MS * ENDS_AT_SHARE
        if verdict.verdict is Verdict.PASSED or (is_on and exposed.beyond_ms > ends_ms):
            reasons.append(_reason(limit, exposed, fahrenheit))
        unknown |= exposed.beyond_ms + exposed.unknown_ms > ends_ms
    if reasons:
        return Found(AlarmKind.EXPOSURE, subject, "; ".join(reasons), place, about=label)
    if is_on and unknown:
        reason = "too little is known of the last hours"
        return Found(AlarmKind.EXPOSURE, subject, reason, place, about=label, known=False)
    return None


def not_looked_at_yet(clutch_id: int, label: str, place: str) -> Found:
    """Give what is known of a clutch whose turn has not come: nothing."""
    reason = "not looked at yet"
    return Found(AlarmKind.EXPOSURE, f"clutch-{clutch_id}", reason, place, about=label, known=False)


def _reason(limit: ExposureLimit, exposed: Exposed, fahrenheit: bool) -> str:
    """`6 h 12 min above 31.0 °C in 24 h, at most 6 h`."""
    side, figure_c = ("above", limit.above_c) if limit.above_c is not None else ("below", limit.below_c)
    figure = value_text(figure_c or 0.0, Quantity.AIR_TEMPERATURE, fahrenheit)
    # A limit that is passed by seconds must not read as if it were kept.
    beyond = duration_text(exposed.beyond_ms + _MINUTE_MS - 1)
    most = duration_text(round(limit.minutes * _MINUTE_MS))
    return f"{beyond} {side} {figure} in {limit.within_h} h, at most {most}"
