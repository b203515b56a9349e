"""The page of one channel's calibrations: what counts, what would change, what can be done, what was. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.words import Quantity
from daemon.calibration_text import (
    equation,
    in_use_text,
    method_text,
    offer_lines,
    point_text,
    remarks,
    standing_text,
)
from daemon.calibration_wishes import Offered, OneChannel
from daemon.local_moments import local_text
from dashboards import figures
from dashboards.drawing import Drawing
from dashboards.setup_calibration import channel_name, due_mark, probe_text, sure_text
from dashboards.setup_calibration_drawing import correction_drawing
from dashboards.setup_calibration_forms import AT, MARK, calibration_forms
from dashboards.setup_forms import FormView, Typed
from dashboards.setup_paths import CALIBRATION_EVENTS_PATH, CALIBRATION_PATH, calibration_path
from dashboards.standing import Mark, Shape, Tone
from dashboards.view import version_of
from sensors.calibration import Record
from sensors.calibration_scale import Scale

_MINUTE_MS = 60_000
_STORES = "Store it"


@dataclass(frozen=True, slots=True)
class OnRecord:
    """One calibration on record."""

    heading: str
    mark: Mark
    lines: tuple[str, ...]
    by: str


@dataclass(frozen=True, slots=True)
class OfferView:
    """What would be stored, and the form that stores it."""

    heading: str
    lines: tuple[str, ...]
    remarks: tuple[str, ...]
    said: str
    hidden: tuple[tuple[str, str], ...]
    wanted: str
    button: str


@dataclass(frozen=True, slots=True)
class CalibrationView:
    """The whole page. `offer` is None where nothing is being shown; `forms` are empty for who may not change it."""

    site_name: str
    clock: str
    zone: str
    heading: str
    events: str
    path: str
    all_path: str
    probe: str
    mark: Mark
    lines: tuple[str, ...]
    heard: str
    heard_mark: Mark
    picture: Drawing
    salt: str
    history: tuple[OnRecord, ...]
    forms: tuple[FormView, ...] = ()
    offer: OfferView | None = None

    @property
    def version(self) -> str:
        """Differs wherever something that is live on the page differs."""
        return version_of((self.mark, self.lines, self.heard, self.heard_mark, self.clock, self.history))


def calibration_view(
    found: OneChannel, *, may_change: bool, typed: Typed | None = None, offer: OfferView | None = None
) -> CalibrationView:
    """Turn what is known of a channel into the page."""
    zone, channel, stated = ZoneInfo(found.time_zone), found.channel.channel, found.channel.stated
    scale = Scale(stated.quantity, found.fahrenheit)
    record = found.calibrations.in_force(channel, found.now_ms)
    sure = sure_text(channel, stated, found.calibrations, found.now_ms, fahrenheit=found.fahrenheit)
    told = standing_text(record, stated, zone, fahrenheit=found.fahrenheit)
    lines = [f"{told[:1].upper()}{told[1:]}", f"A usual reading is sure within {sure} now, in about 95 of 100 cases."]
    if record is not None:
        lines.append(in_use_text(record.line, scale).replace("today", "when fresh"))
    is_humidity = stated.quantity is Quantity.RELATIVE_HUMIDITY
    return CalibrationView(
        site_name=found.site_name,
        clock=figures.moment_text(figures.local(found.now_ms, zone)),
        zone=found.time_zone,
        heading=channel_name(found.channel),
        events=f"{CALIBRATION_EVENTS_PATH}/{channel}",
        path=calibration_path(channel),
        all_path=CALIBRATION_PATH,
        probe=f"Of {probe_text(channel)}",
        mark=due_mark(record, found.now_ms),
        lines=tuple(lines),
        heard=_heard(found, record, scale),
        heard_mark=_heard_mark(found),
        picture=correction_drawing(record, stated, found.now_ms, fahrenheit=found.fahrenheit),
        salt=f"clutchwarden calibrate salt {channel}" if is_humidity else "",
        history=tuple(_on_record(each, found, record, zone) for each in reversed(found.history)),
        forms=calibration_forms(found, typed) if may_change else (),
        offer=offer if may_change else None,
    )


def offer_view(offered: Offered, typed: Typed, found: OneChannel, at_ms: int, said: str = "") -> OfferView:
    """What would change, with all that was typed, so that the second step stores what the first has shown."""
    record = offered.offer.record
    hidden = {name: text for name, text in typed.fields.items() if name not in (AT, MARK, "wanted", "guard")}
    return OfferView(
        heading="What would change",
        lines=tuple(offer_lines(offered.offer, ZoneInfo(found.time_zone), fahrenheit=found.fahrenheit)),
        remarks=tuple(remarks(offered.offer, fahrenheit=found.fahrenheit)),
        said=said,
        hidden=(*hidden.items(), (AT, str(at_ms)), (MARK, offered.mark)),
        wanted=typed.wanted,
        button="Withdraw it" if record.takes_back else _STORES,
    )


def _heard(found: OneChannel, record: Record | None, scale: Scale) -> str:
    heard, minutes = found.heard, round(found.heard_over_ms / _MINUTE_MS)
    if heard.mean is None:
        return heard.reason
    raw = f"The probe itself says {scale.shown(heard.mean):.2f} {scale.unit}"
    corrected = "" if record is None else f", shown as {scale.shown(record.line.corrected(heard.mean)):.2f}"
    count = f"{heard.readings} reading{'s' * (heard.readings != 1)}"
    return f"{raw}{corrected}: the mean of {count} in {minutes} min. {heard.reason}"


def _heard_mark(found: OneChannel) -> Mark:
    if found.heard.settled:
        return Mark(Shape.EGG, "settled", Tone.WELL)
    return Mark(Shape.GAP, "not settled" if found.heard.readings else "no reading", Tone.UNKNOWN)


def _on_record(record: Record, found: OneChannel, in_force: Record | None, zone: ZoneInfo) -> OnRecord:
    scale = Scale(found.channel.stated.quantity, found.fahrenheit)
    lines = [] if record.takes_back else [equation(record.line, scale)]
    lines += [point_text(point, scale, "said") for point in record.line.points]
    if record.due_at_ms is not None:
        lines.append(f"To be repeated by {local_text(record.due_at_ms, zone)[:10]}.")
    if record.note:
        lines.append(f"Note: {record.note}")
    return OnRecord(
        heading=f"From {local_text(record.valid_from_ms, zone)}: {method_text(record)}",
        mark=_counts(record, found, in_force),
        lines=tuple(lines),
        by=f"by {record.who}, entered {local_text(record.recorded_at_ms, zone)}",
    )


def _counts(record: Record, found: OneChannel, in_force: Record | None) -> Mark:
    """Whether it counts: of two from the same date the one entered later does."""
    later = [each for each in found.history if each.valid_from_ms == record.valid_from_ms]
    if later[-1] is not record:
        return Mark(Shape.GAP, "replaced", Tone.PLAIN)
    if record is in_force or record == in_force:
        return Mark(Shape.EGG, "counts now", Tone.WELL)
    if record.takes_back:
        return Mark(Shape.GAP, "no correction from here on", Tone.PLAIN)
    return Mark(Shape.RING, "counted until the next one", Tone.PLAIN)
