"""What `clutchwarden calibrate` says. Pure: values in, words out."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import Quantity
from daemon.commands.moments import local_text
from sensors.calibration import Calibrations, Record, Stated
from sensors.calibration_line import Line, usual

DAY_MS = 86_400_000
COVERAGE = 2
"""The factor k behind a ± that people read: about 95 % where the spread is near normal (JCGM 100:2008, 6.3.3)."""


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


def unit_of(quantity: Quantity) -> str:
    """The unit of a value."""
    return "°C" if quantity.is_temperature else "% RH"


def remarks(offer: Offer) -> list[str]:
    """What whoever stores this calibration should know; empty where all is well."""
    line, quantity = offer.record.line, offer.stated.quantity
    if offer.record.takes_back:
        return []
    typical, unit = usual(quantity).typical, usual(quantity).unit
    found = []
    fresh_u, by_maker = line.standard_uncertainty(typical, 0), offer.stated.standard_uncertainty
    if fresh_u >= by_maker:
        found.append(
            f"It makes nothing surer: ±{COVERAGE * fresh_u:.2g} {unit} after it, ±{COVERAGE * by_maker:.2g} {unit} "
            "without it (both k = 2). A better reference would."
        )
    shift = abs(line.corrected(typical) - typical)
    if shift < fresh_u:
        found.append(
            f"The correction of a usual reading, {shift:.2g} {unit}, is smaller than its own uncertainty (k = 1): "
            "no fault of the probe shows."
        )
    readings = [point.reading for point in line.points]
    if len(readings) > 1 and not min(readings) <= typical <= max(readings):
        found.append(
            f"A usual reading, {typical:g} {unit_of(quantity)}, is not between the two points, and less sure for that."
        )
    return found


def offer_text(offer: Offer, zone: ZoneInfo) -> str:
    """The preview of a calibration: points, line, what it changes, and from when."""
    record, quantity = offer.record, offer.stated.quantity
    unit = unit_of(quantity)
    lines = [f"{record.channel}, {record.method}"]
    lines += [
        f"  {point.against}: true {point.reference:.2f} {unit}, the probe says {point.reading:.2f}"
        for point in record.line.points
    ]
    if record.takes_back:
        lines.append("  No correction any more: from then on it counts as never calibrated.")
    else:
        lines += [f"  {equation(record.line, unit)}", f"  {in_use_text(record.line, quantity)}"]
    lines.append(f"  Until now: {standing_text(offer.before, offer.stated, zone)}")
    if offer.newest is not None:
        lines.append(f"  The newest reading, shown as {offer.newest[0]:.2f} {unit}, becomes {offer.newest[1]:.2f}.")
    lines.append(f"  {_dates(offer, zone)}")
    lines += [f"  Note: {remark}" for remark in remarks(offer)]
    return "\n".join(lines)


def equation(line: Line, unit: str) -> str:
    """The line as a keeper reads it."""
    sign = "-" if line.shift < 0 else "+"
    factor = "" if line.gain == 1 else f"{line.gain:.4f} x "
    return f"corrected = {factor}reading {sign} {abs(line.shift):.2f} {unit}"


def in_use_text(line: Line, quantity: Quantity) -> str:
    """How sure a usual reading is."""
    typical, unit = usual(quantity).typical, unit_of(quantity)
    spread, of_reference = (
        COVERAGE * each for each in (line.standard_uncertainty(typical, 0), line.reference_part(typical))
    )
    return (
        f"A reading of {typical:g} {unit} means {line.corrected(typical):.2f} ± {spread:.2f} {unit} today "
        f"(k = {COVERAGE}), of which ±{of_reference:.2f} is the reference."
    )


def standing_text(record: Record | None, stated: Stated, zone: ZoneInfo) -> str:
    """What counts of a channel."""
    if record is None:
        return f"not calibrated, ±{stated.accuracy:g} {usual(stated.quantity).unit} as stated or usual."
    said = equation(record.line, unit_of(stated.quantity))
    return f"{record.method} of {local_text(record.taken_at_ms, zone)[:10]}, {said}."


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
    sure = f"±{spread:.2g} {usual(stated.quantity).unit}"
    if record is None:
        return [channel, stated.quantity.value.replace("_", " "), "never", "", "", sure]
    return [
        channel,
        stated.quantity.value.replace("_", " "),
        f"{local_text(record.taken_at_ms, zone)[:10]}, {record.method}",
        _days(now_ms - record.taken_at_ms),
        _due(record.due_at_ms, now_ms),
        sure,
    ]


def _days(span_ms: int) -> str:
    days = round(span_ms / DAY_MS)
    return f"{days} day{'s' * (days != 1)}"


def _due(due_ms: int | None, now_ms: int) -> str:
    if due_ms is None:
        return ""
    return f"in {_days(due_ms - now_ms)}" if due_ms > now_ms else f"OVERDUE by {_days(now_ms - due_ms)}"
