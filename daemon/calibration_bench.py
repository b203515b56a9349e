"""One channel on the bench: what is known of it, what its probe says, and what a calibration would change.

By command and on a page alike. What is refused is a StatedError, and nothing is stored by anything here but `store`.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.errors import StatedError
from config.plain import nearest
from config.site import Site
from daemon.calibration_text import DAY_MS, Offer
from daemon.local_moments import stated_ms
from daemon.storage import calibrations as stored
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.calibration import Calibrations, Record, Stated, stated_of
from sensors.calibration_line import Line, Point, usual
from sensors.calibration_scale import Scale
from sensors.settling import Settling, settling

SPAN_MS = 15 * 60_000
NOT_YET = "Enter it when it is done; check this computer's clock as well."
_READINGS_IN_SPAN = 6
_LONGEST_DUE_MS = 10 * 366 * DAY_MS
_DUE = re.compile(r"(\d{1,4})\s*([dwy])")
_DAYS = {"d": 1, "w": 7, "y": 365}


@dataclass(frozen=True, slots=True)
class Bench:
    """Times are UTC ms: the present, and when the points were measured. `fahrenheit`: the unit of refusals."""

    site: Site
    journal: Journal
    channel: str
    stated: Stated
    calibrations: Calibrations
    now_ms: int
    taken_ms: int
    fahrenheit: bool = False

    @property
    def zone(self) -> ZoneInfo:
        """The time zone of the site."""
        return ZoneInfo(self.site.time_zone)

    @property
    def scale(self) -> Scale:
        """The unit in which people read the values of the channel."""
        return Scale(self.stated.quantity, self.fahrenheit)

    @property
    def corrected_since(self) -> Record | None:
        """The calibration that counts when the points were measured; None where pages show what the probe says."""
        return self.calibrations.in_force(self.channel, self.taken_ms)

    def uncorrected(self, reading: float, shown: bool) -> float:
        """Give what the probe itself said. `shown`: the reading was taken from a page or an alert."""
        record = self.corrected_since
        return reading if record is None or not shown else (reading - record.line.shift) / record.line.gain

    def listened(self, channel: str, end_ms: int) -> Settling:
        """Judge the readings of the last minutes, as the probe said them."""
        span_ms = span_of(self.site, channel)
        with self.journal.read() as conn:
            readings = samples.good_between(conn, channel, end_ms - span_ms, end_ms, 0)
        quantity = stated_of(self.site)[channel].quantity
        return settling(quantity, readings, span_ms, end_ms, fahrenheit=self.fahrenheit)

    def offer(self, line: Line, method: str, dates: "Dates", who: str, note: str) -> Offer:
        """Hold a calibration against what counts until now."""
        due_ms = dates.due_ms if line.points else None
        record = Record(self.channel, dates.since_ms, line, method, self.taken_ms, due_ms, self.now_ms, who, note)
        before = self.calibrations.in_force(self.channel, dates.since_ms)
        following = self.calibrations.next_from(self.channel, dates.since_ms)
        return Offer(record, self.stated, before, following, self._newest_as(record, following))

    def _newest_as(self, record: Record, following: Record | None) -> tuple[float, float] | None:
        """Give the newest good reading as it is shown now, and as it will be; None where it is not touched."""
        with self.journal.read() as conn:
            row = samples.newest_good_of(conn, self.channel)
        if row is None or row.measured_at_ms < record.valid_from_ms:
            return None
        if following is not None and row.measured_at_ms >= following.valid_from_ms:
            return None
        shown = self.calibrations.corrected(self.channel, row.value, row.measured_at_ms)
        return shown, record.line.corrected(row.value)


@dataclass(frozen=True, slots=True)
class Dates:
    """From when a calibration counts, and when it is to be repeated. UTC ms."""

    since_ms: int
    due_ms: int


def bench_of(
    site: Site, journal: Journal, channel: str, now_ms: int, taken_ms: int | None = None, *, fahrenheit: bool = False
) -> Bench:
    """Look a channel up. Raises StatedError where there is no such channel, or nothing to calibrate at it."""
    stated = _stated(site, channel)
    with journal.read() as conn:
        calibrations = stored.load(conn, site)
    return Bench(
        site, journal, channel, stated, calibrations, now_ms, now_ms if taken_ms is None else taken_ms, fahrenheit
    )


def _stated(site: Site, channel: str) -> Stated:
    known: Mapping[str, Stated] = stated_of(site)
    if channel in known:
        return known[channel]
    probe, _, name = channel.partition("/")
    of_probe = {each.name: each.quantity for one in site.probes if one.id == probe for each in one.channels}
    if name in of_probe:
        reason = f"{channel} is a {of_probe[name]} contact, which is 0 or 1: there is nothing to calibrate"
        raise StatedError(reason, "Choose a channel that measures.")
    raise StatedError(f"There is no channel {channel!r} in site.toml", nearest(channel, known))


def span_of(site: Site, channel: str) -> int:
    """Give over how long readings are averaged, ms: a quarter of an hour, longer for a probe that sends seldom."""
    interval_s = next(probe.interval_s for probe in site.probes if probe.id == channel.partition("/")[0])
    return max(SPAN_MS, round(_READINGS_IN_SPAN * interval_s * 1000))


def within_reason(given: float | None, default: float, scale: Scale) -> float:
    """Give a plus or minus or a spread of a probe, K or % RH, the default where none is stated. Raises StatedError."""
    most = usual(scale.quantity).largest_shift
    if given is None:
        return default
    if not 0 <= given <= most:
        raise StatedError(
            f"{scale.shown_difference(given):g} cannot be",
            f"Give 0 to {scale.shown_difference(most):g} {scale.difference_unit}.",
        )
    return given


def due_ms_of(text: str, taken_ms: int, zone: ZoneInfo) -> int:
    """Give when to repeat a calibration, from a span after measuring or a date. Raises StatedError."""
    found = _DUE.fullmatch(text.strip().lower())
    moment = taken_ms + int(found[1]) * _DAYS[found[2]] * DAY_MS if found else stated_ms(text, zone)
    if not taken_ms < moment <= taken_ms + _LONGEST_DUE_MS:
        raise StatedError(f"{text} is not within ten years after measuring", "Give for example 180d, 26w or 1y.")
    return moment


def settled_point(found: Settling, scale: Scale) -> tuple[float, float]:
    """Give the mean of readings that have settled, and their scatter. Raises StatedError where they have not."""
    if found.mean is None or not found.settled:
        seen = "" if found.mean is None else f" Mean {scale.shown(found.mean):.2f} {scale.unit}."
        raise StatedError(f"{found.reason}{seen}", "Or give the reading yourself.")
    return found.mean, found.scatter or 0.0


def beside_reference(true: float, reading: float, accuracy: float, reading_u: float, against: str) -> Point:
    """Give the point of a reading beside a reference that is right within plus or minus `accuracy`.

    A ± of which no more is said is the half-width of a rectangle (JCGM 100:2008, 4.3.7).
    """
    return Point(true, reading, accuracy / 3**0.5, reading_u, against)
