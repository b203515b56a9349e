"""Calibrations in words, the same by command and on a page. Pure: values in, words out.

`fahrenheit`: values that are temperatures are told in °F.
"""

import math
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import Quantity
from daemon.local_moments import local_text
from sensors.calibration import Calibrations, Record, Stated
from sensors.calibration_line import Line, Point, usual
from sensors.calibration_scale import Scale

DAY_MS = 86_400_000
COVERAGE = 2
"""The factor k behind a ± that people read: about 95 % where the spread is near normal (JCGM 100:2008, 6.3.3)."""

REFERENCE = "reference"
"""What the text of a point begins with that was measured beside an instrument, and not over a salt."""

_METHODS = {
    "one-point": "calibrated at one point",
    "two-point": "calibrated at two points",
    "salt, one-point": "calibrated over one salt",
    "salt, two-point": "calibrated over two salts",
    "withdrawn": "the correction was withdrawn",
}


@dataclass(frozen=True, slots=True)
class Offer:
    """A calibration that is about to be stored, and what it is to be held against.

    `before` is what counted until now at its start. `newest` is the newest good reading as it is shown now, and as it
    will be; None where it is not touched.
    """

    record: Record
    stated: Stated
    before: Record | None
    following: Record | None
    newest: tuple[float, float] | None


def remarks(offer: Offer, *, fahrenheit: bool = False) -> list[str]:
    """What whoever stores this calibration should know; empty where all is well."""
    line, scale = offer.record.line, Scale(offer.stated.quantity, fahrenheit)
    if offer.record.takes_back:
        return []
    typical, unit = usual(scale.quantity).typical, scale.difference_unit
    found = []
    fresh_u, by_maker = line.standard_uncertainty(typical, 0), offer.stated.standard_uncertainty
    if fresh_u >= by_maker:
        fresh, stated = (COVERAGE * scale.shown_difference(each) for each in (fresh_u, by_maker))
        found.append(
            f"It makes nothing surer: ± {fresh:.2g} {unit} after it, ± {stated:.2g} {unit} without it. A better "
            "reference would."
        )
    shift = abs(line.corrected(typical) - typical)
    if shift < fresh_u:
        found.append(
            f"The correction of a usual reading, {scale.shown_difference(shift):.2g} {unit}, is smaller than what "
            "it can be off itself: no fault of the probe shows."
        )
    readings = [point.reading for point in line.points]
    if len(readings) > 1 and not min(readings) <= typical <= max(readings):
        found.append(
            f"A usual reading, {scale.shown(typical):g} {scale.unit}, is not between the two points, and less sure for "
            "that."
        )
    return found


def offer_text(offer: Offer, zone: ZoneInfo) -> str:
    """The preview of a calibration for a command."""
    lines = [*offer_lines(offer, zone), *(f"Note: {remark}" for remark in remarks(offer))]
    return "\n".join([f"{offer.record.channel}, {offer.record.method}", *(f"  {line}" for line in lines)])


def offer_lines(offer: Offer, zone: ZoneInfo, *, fahrenheit: bool = False) -> list[str]:
    """Points, line, what it changes, and from when; what is to be said against it is in `remarks`."""
    record, scale = offer.record, Scale(offer.stated.quantity, fahrenheit)
    lines = [point_text(point, scale) for point in record.line.points]
    if record.takes_back:
        lines.append("No correction any more: from then on it counts as never calibrated.")
    else:
        lines += [equation(record.line, scale), in_use_text(record.line, scale)]
    lines.append(f"Until now: {standing_text(offer.before, offer.stated, zone, fahrenheit=fahrenheit)}")
    if offer.newest is not None:
        now, then = map(scale.shown, offer.newest)
        lines.append(f"The newest reading, shown as {now:.2f} {scale.unit}, becomes {then:.2f}.")
    return [*lines, _dates(offer, zone)]


def point_text(point: Point, scale: Scale, says: str = "says") -> str:
    """One point: what is true and what the probe says of it."""
    against = point.against
    if against.startswith(REFERENCE):
        against = reference_text(point.reference_u * math.sqrt(3), scale)
    true, reading = scale.shown(point.reference), scale.shown(point.reading)
    return f"{against}: true {true:.2f} {scale.unit}, the probe {says} {reading:.2f}"


def reference_text(accuracy: float, scale: Scale) -> str:
    """What a reference instrument is called; `accuracy` is its plus or minus, K or % RH."""
    return f"{REFERENCE} (± {scale.shown_difference(accuracy):.3g} {scale.difference_unit})"


def equation(line: Line, scale: Scale) -> str:
    """The line as a keeper reads it."""
    shift = scale.shown_shift(line.gain, line.shift)
    sign = "-" if shift < 0 else "+"
    factor = "" if line.gain == 1 else f"{line.gain:.4f} x "
    return f"corrected = {factor}reading {sign} {abs(shift):.2f} {scale.unit}"


def in_use_text(line: Line, scale: Scale) -> str:
    """How sure a usual reading is."""
    typical, unit = usual(scale.quantity).typical, scale.unit
    spread, of_reference = (
        COVERAGE * scale.shown_difference(each)
        for each in (line.standard_uncertainty(typical, 0), line.reference_part(typical))
    )
    return (
        f"A reading of {scale.shown(typical):g} {unit} means {scale.shown(line.corrected(typical)):.2f} ± "
        f"{spread:.2f} {unit} today, of which ± {of_reference:.2f} is the reference."
    )


def standing_text(record: Record | None, stated: Stated, zone: ZoneInfo, *, fahrenheit: bool = False) -> str:
    """What counts of a channel."""
    scale = Scale(stated.quantity, fahrenheit)
    if record is None:
        by_maker = scale.shown_difference(stated.accuracy)
        return f"not calibrated, ± {by_maker:g} {scale.difference_unit} as stated or usual."
    return f"{method_text(record)} on {local_text(record.taken_at_ms, zone)[:10]}: {equation(record.line, scale)}."


def method_text(record: Record) -> str:
    """How it was calibrated, in words: `calibrated at one point`."""
    return _METHODS.get(record.method, record.method)


def _dates(offer: Offer, zone: ZoneInfo) -> str:
    record = offer.record
    text = f"Counts from {local_text(record.valid_from_ms, zone)}"
    if offer.following is not None:
        text += f" until {local_text(offer.following.valid_from_ms, zone)}, where the next one on record takes over"
    if record.due_at_ms is not None:
        text += f"; to be repeated by {local_text(record.due_at_ms, zone)[:10]}"
    return f"{text}."


def record_as_dict(record: Record, quantity: Quantity) -> dict[str, object]:
    """One calibration, for programs."""
    line = record.line
    typical = usual(quantity).typical
    return {
        "channel": record.channel,
        "method": record.method,
        "gain": line.gain,
        "shift": line.shift,
        "valid_from_ms": record.valid_from_ms,
        "taken_at_ms": record.taken_at_ms,
        "due_at_ms": record.due_at_ms,
        "recorded_at_ms": record.recorded_at_ms,
        "who": record.who,
        "note": record.note,
        "typical_reading": typical,
        "standard_uncertainty": None if record.takes_back else line.standard_uncertainty(typical, 0),
        "points": [
            {
                "against": point.against,
                "reference": point.reference,
                "reading": point.reading,
                "reference_u": point.reference_u,
                "reading_u": point.reading_u,
            }
            for point in line.points
        ],
    }


def standing_as_dict(channel: str, stated: Stated, calibrations: Calibrations, now_ms: int) -> dict[str, object]:
    """What counts of one channel now, for programs. Uncertainty: k = 1, of a usual reading."""
    record = calibrations.in_force(channel, now_ms)
    due_ms = record.due_at_ms if record else None
    return {
        "channel": channel,
        "quantity": stated.quantity.value,
        "accuracy": stated.accuracy,
        "method": record.method if record else None,
        "calibrated_ms": record.taken_at_ms if record else None,
        "age_days": (now_ms - record.taken_at_ms) / DAY_MS if record else None,
        "due_at_ms": due_ms,
        "overdue": due_ms is not None and now_ms >= due_ms,
        "gain": record.line.gain if record else 1.0,
        "shift": record.line.shift if record else 0.0,
        "standard_uncertainty": calibrations.standard_uncertainty(channel, usual(stated.quantity).typical, now_ms),
    }


def standing_row(channel: str, stated: Stated, calibrations: Calibrations, now_ms: int, zone: ZoneInfo) -> list[str]:
    """What counts of one channel now, as a row of a table."""
    record = calibrations.in_force(channel, now_ms)
    spread = COVERAGE * calibrations.standard_uncertainty(channel, usual(stated.quantity).typical, now_ms)
    sure = f"± {spread:.2g} {Scale(stated.quantity).difference_unit}"
    if record is None:
        return [channel, stated.quantity.value.replace("_", " "), "never", "", "", sure]
    return [
        channel,
        stated.quantity.value.replace("_", " "),
        f"{local_text(record.taken_at_ms, zone)[:10]}, {record.method}",
        days_text(now_ms - record.taken_at_ms),
        due_text(record.due_at_ms, now_ms),
        sure,
    ]


def days_text(span_ms: int) -> str:
    """A span in whole days."""
    days = round(span_ms / DAY_MS)
    return f"{days} day{'s' * (days != 1)}"


def due_text(due_ms: int | None, now_ms: int) -> str:
    """In how many days a calibration is due, or since when; empty where it never is."""
    if due_ms is None:
        return ""
    return f"in {days_text(due_ms - now_ms)}" if due_ms > now_ms else f"OVERDUE by {days_text(now_ms - due_ms)}"
