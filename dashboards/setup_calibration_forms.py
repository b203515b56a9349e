"""The forms of a channel's calibrations, and what was typed into them. Pure.

Temperatures are typed in the unit of the site; what comes out is canonical.
"""

from collections.abc import Mapping
from enum import StrEnum
from zoneinfo import ZoneInfo

from daemon.calibration_wishes import USUAL_DUE, OneChannel, OnePoint, Terms, TwoPoint, Wish, Withdraw
from dashboards.setup_forms import Field, FormView, Read, Typed, filled
from dashboards.setup_paths import calibration_path
from sensors.calibration_line import usual
from sensors.calibration_scale import Scale

AT, MARK = "at", "mark"
"""Hidden fields: when the form was first sent, UTC ms, and the mark of what was shown then."""
_SHOWN = (("", "Choose"), ("shown", "A page or an alert of clutchwarden"), ("raw", "The probe or its maker's program"))
_MOMENT_DIGITS = 15


class Wanted(StrEnum):
    """What a form is for; the value of its button."""

    ONE_POINT = "one-point"
    TWO_POINT = "two-point"
    WITHDRAW = "withdraw"


def calibration_forms(found: OneChannel, typed: Typed | None = None) -> tuple[FormView, ...]:
    """Give the forms of a channel, the one that was refused or is being shown filled in as it was sent."""
    forms = [_one_point(found), _two_point(found)]
    if found.history:
        forms.append(_withdraw(found))
    return tuple(filled(form, typed) for form in forms)


def wish_of(wanted: Wanted, fields: Mapping[str, str], found: OneChannel) -> tuple[Wish, Terms] | Typed:
    """Read a form; gives what is wrong where it cannot be read."""
    read, zone = Read(fields), ZoneInfo(found.time_zone)
    scale = Scale(found.channel.stated.quantity, found.fahrenheit)
    wish = _READERS[wanted](read, scale)
    at = fields.get(AT, "")
    terms = Terms(
        at_ms=int(at) if at.isascii() and at.isdecimal() and len(at) <= _MOMENT_DIGITS else found.now_ms,
        taken_ms=read.moment("taken", zone),
        since_ms=read.moment("since", zone),
        due=read.text("due"),
        repeatability_u=read.number("repeats", read=scale.canonical_difference),
        drift_per_year=read.number("wanders", read=scale.canonical_difference),
        note=read.text("note"),
    )
    return Typed(wanted, fields, read.errors) if wish is None or read.errors else (wish, terms)


def _read_one(read: Read, scale: Scale) -> Wish | None:
    reference = read.number(
        "reference", f"Say what the good {_instrument(scale)} shows, {scale.unit}.", scale.canonical
    )
    reading = read.number("reading", read=scale.canonical)
    accuracy, shown = _accuracy(read, scale), _shown(read)
    if reference is None or accuracy is None:
        return None
    return OnePoint(reference, reading, accuracy, shown)


def _read_two(read: Read, scale: Scale) -> Wish | None:
    named = ("low_reference", "low_reading", "high_reference", "high_reading")
    low, low_said, high, high_said = (
        read.number(name, f"A line takes all four numbers, {scale.unit}.", scale.canonical) for name in named
    )
    accuracy, shown = _accuracy(read, scale), _shown(read)
    if low is None or low_said is None or high is None or high_said is None or accuracy is None:
        return None
    return TwoPoint(low, low_said, high, high_said, accuracy, shown)


def _read_withdraw(_read: Read, _scale: Scale) -> Wish | None:
    return Withdraw()


_READERS = {Wanted.ONE_POINT: _read_one, Wanted.TWO_POINT: _read_two, Wanted.WITHDRAW: _read_withdraw}


def _accuracy(read: Read, scale: Scale) -> float | None:
    """How good the reference is. Of a thermometer nobody can guess that; of a hygrometer a usual figure is taken."""
    if scale.quantity.is_temperature:
        missing = "Say how good that thermometer is: its certificate or data sheet states it."
        return read.number("accuracy", missing, scale.canonical_difference)
    given = read.number("accuracy", read=scale.canonical_difference)
    return usual(scale.quantity).reference_accuracy if given is None else given


def _shown(read: Read) -> bool | None:
    chosen = read.choice("shown", _SHOWN)
    return None if not chosen else chosen == "shown"


def _one_point(found: OneChannel) -> FormView:
    scale = _scale(found)
    reading = Field(
        "reading",
        f"What the probe says, {scale.unit}",
        "number",
        hint="Leave it empty, and the settled mean of its last readings is taken.",
    )
    return FormView(
        Wanted.ONE_POINT,
        calibration_path(found.channel.channel),
        f"One point, beside a good {_instrument(scale)}",
        "Show what changes",
        f"Probe and {_instrument(scale)} side by side, near the temperature or humidity in use, until neither moves. "
        "Shifts every reading. Nothing is stored before you have seen what changes.",
        (
            _number("reference", f"What the good {_instrument(scale)} shows, {scale.unit}"),
            _accuracy_field(scale),
            reading,
            *_shown_field(found),
        ),
        _small(found),
        is_open=True,
    )


def _two_point(found: OneChannel) -> FormView:
    scale = _scale(found)
    return FormView(
        Wanted.TWO_POINT,
        calibration_path(found.channel.channel),
        f"Two points, beside one good {_instrument(scale)}",
        "Show what changes",
        "Best below and above what is in use: two steady baths or cabinets. Corrects by a line through both.",
        (
            _number("low_reference", f"Lower point: what the good {_instrument(scale)} shows, {scale.unit}"),
            _number("low_reading", f"Lower point: what the probe says, {scale.unit}"),
            _number("high_reference", f"Upper point: what the good {_instrument(scale)} shows, {scale.unit}"),
            _number("high_reading", f"Upper point: what the probe says, {scale.unit}"),
            _accuracy_field(scale),
            *_shown_field(found),
        ),
        _small(found),
    )


def _withdraw(found: OneChannel) -> FormView:
    since = Field("since", f"From when? ({found.time_zone})", "moment", hint="Empty: from now on.")
    return FormView(
        Wanted.WITHDRAW,
        calibration_path(found.channel.channel),
        "Withdraw: no correction any more",
        "Show what changes",
        "From that date on the probe counts as never calibrated: it was replaced or repaired, or an entry was a "
        "mistake. What is on record stays.",
        (since, Field("note", "Why?", hint="Kept with it.")),
    )


def _small(found: OneChannel) -> tuple[Field, ...]:
    scale, bounds = _scale(found), usual(found.channel.stated.quantity)
    repeats, drift = (scale.shown_difference(each) for each in (bounds.repeatability_u, bounds.drift_per_year))
    unit = scale.difference_unit
    return (
        Field("taken", f"When was it measured? ({found.time_zone})", "moment", hint="Empty: now."),
        Field("since", "From when does it count?", "moment", hint="Empty: from when it was measured; also past."),
        Field(
            "due", "When is it to be repeated?", hint=f"180d, 26w or 1y after measuring, or a date. Empty: {USUAL_DUE}."
        ),
        Field(
            "repeats", f"How far single readings of the probe scatter, {unit}", "number", hint=f"Empty: {repeats:g}."
        ),
        Field("wanders", f"± it may wander in a year, {unit}", "number", hint=f"Empty: {drift:g}, common practice."),
        Field("note", "Note", hint="For example the number of the certificate."),
    )


def _shown_field(found: OneChannel) -> tuple[Field, ...]:
    """Where a correction counts, a page shows another figure than the probe: the form asks which one was typed."""
    if not found.history:
        return ()
    hint = "Needed where you type a reading: this channel has been corrected."
    return (Field("shown", "Where did you read what the probe says?", "select", hint=hint, options=_SHOWN),)


def _accuracy_field(scale: Scale) -> Field:
    is_temperature = scale.quantity.is_temperature
    hint = "By its certificate. Without one take what its maker states" + (
        ", often 1 or 2 °F." if scale.unit == "°F" else ", often 0.5 or 1 °C." if is_temperature else "; empty: 2 % RH."
    )
    return Field(
        "accuracy",
        f"How good that {_instrument(scale)} is, ± {scale.difference_unit}",
        "number",
        hint=hint,
        required=is_temperature,
    )


def _instrument(scale: Scale) -> str:
    return "thermometer" if scale.quantity.is_temperature else "hygrometer"


def _number(name: str, label: str) -> Field:
    return Field(name, label, "number", required=True)


def _scale(found: OneChannel) -> Scale:
    return Scale(found.channel.stated.quantity, found.fahrenheit)
