"""The list of channels with their calibrations, as texts and marks. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.calibration_text import COVERAGE, days_text, due_text, method_text
from daemon.calibration_wishes import AllChannels, ChannelNow
from daemon.local_moments import local_text
from dashboards import figures
from dashboards.setup_paths import calibration_path
from dashboards.standing import Mark, Shape, Tone
from dashboards.view import version_of
from sensors.calibration import Calibrations, Record, Stated
from sensors.calibration_line import usual
from sensors.calibration_scale import Scale

NEVER = Mark(Shape.RING, "never calibrated", Tone.PLAIN)


@dataclass(frozen=True, slots=True)
class ChannelRow:
    """One channel of the list."""

    channel: str
    path: str
    name: str
    probe: str
    mark: Mark
    calibrated: str
    sure: str


@dataclass(frozen=True, slots=True)
class CalibrationListView:
    """The whole page: what is overdue first."""

    site_name: str
    clock: str
    zone: str
    heading: str
    rows: tuple[ChannelRow, ...]

    @property
    def version(self) -> str:
        """Differs wherever something that is shown differs."""
        return version_of(self)


def calibration_list_view(found: AllChannels) -> CalibrationListView:
    """Turn what is known of all channels into rows."""
    zone = ZoneInfo(found.time_zone)
    ordered = sorted(found.channels, key=lambda each: _urgency(each, found))
    overdue = sum(_is_overdue(_in_force(each, found), found.now_ms) for each in found.channels)
    return CalibrationListView(
        site_name=found.site_name,
        clock=figures.moment_text(figures.local(found.now_ms, zone)),
        zone=found.time_zone,
        heading=f"Calibration: {overdue} overdue" if overdue else "Calibration",
        rows=tuple(_row(each, found, zone) for each in ordered),
    )


def sure_text(channel: str, stated: Stated, calibrations: Calibrations, now_ms: int, *, fahrenheit: bool) -> str:
    """How far a usual reading may be off in about 95 of 100 cases."""
    scale = Scale(stated.quantity, fahrenheit)
    spread = calibrations.standard_uncertainty(channel, usual(stated.quantity).typical, now_ms)
    return f"±{figures.NBSP}{COVERAGE * scale.shown_difference(spread):.2g}{figures.NBSP}{scale.difference_unit}"


def due_mark(record: Record | None, now_ms: int) -> Mark:
    """Say how a calibration stands against the date at which it is to be repeated."""
    if record is None:
        return NEVER
    if _is_overdue(record, now_ms):
        return Mark(Shape.CAUTION, due_text(record.due_at_ms, now_ms).lower(), Tone.HIGH)
    word = f"due {due_text(record.due_at_ms, now_ms)}" if record.due_at_ms is not None else "calibrated"
    return Mark(Shape.EGG, word, Tone.WELL)


def channel_name(each: ChannelNow) -> str:
    """What a channel is to a keeper: `North cabinet, upper shelf: air temperature`."""
    return f"{each.place}: {quantity_word(each.stated)}"


def probe_text(channel: str) -> str:
    """Which probe it is, and which of its channels where the probe has a word for that."""
    probe, _, name = channel.partition("/")
    return f"probe {probe}, channel {name}" if name else f"probe {probe}"


def quantity_word(stated: Stated) -> str:
    """What a channel measures, in words."""
    return stated.quantity.value.replace("_", " ")


def _row(each: ChannelNow, found: AllChannels, zone: ZoneInfo) -> ChannelRow:
    record = _in_force(each, found)
    calibrated = ""
    if record is not None:
        day = local_text(record.taken_at_ms, zone)[:10]
        told = method_text(record)
        calibrated = f"{told[:1].upper()}{told[1:]} on {day}, {days_text(found.now_ms - record.taken_at_ms)} ago"
    return ChannelRow(
        channel=each.channel,
        path=calibration_path(each.channel),
        name=channel_name(each),
        probe=probe_text(each.channel),
        mark=due_mark(record, found.now_ms),
        calibrated=calibrated,
        sure=sure_text(each.channel, each.stated, found.calibrations, found.now_ms, fahrenheit=found.fahrenheit),
    )


def _in_force(each: ChannelNow, found: AllChannels) -> Record | None:
    return found.calibrations.in_force(each.channel, found.now_ms)


def _is_overdue(record: Record | None, now_ms: int) -> bool:
    return record is not None and record.due_at_ms is not None and now_ms >= record.due_at_ms


def _urgency(each: ChannelNow, found: AllChannels) -> tuple[int, int, str]:
    """Overdue ones first, the longest first; then those that never were calibrated; then by date."""
    record = _in_force(each, found)
    if record is None:
        return 1, 0, each.channel
    due_ms = record.due_at_ms
    if _is_overdue(record, found.now_ms) and due_ms is not None:
        return 0, due_ms, each.channel
    return (2, due_ms, each.channel) if due_ms is not None else (3, 0, each.channel)
