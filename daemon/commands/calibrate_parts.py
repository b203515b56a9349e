"""What the `calibrate` commands share: options, looking things up, taking a reading, and asking before storing."""

import json
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Annotated

import typer

from config.errors import StatedError
from config.plain import nearest
from daemon.commands.calibrate_text import DAY_MS, Offer, offer_text, record_as_dict, remarks, unit_of
from daemon.commands.moments import local_text, moment_ms
from daemon.commands.site_folder import SiteFolder, fail, login_name
from daemon.storage import calibrations as stored
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.calibration import Calibrations, Record, Stated, stated_of
from sensors.calibration_line import Line, usual
from sensors.settling import Settling, settling

SPAN_MS = 15 * 60_000
_READINGS_IN_SPAN = 6
_LONGEST_DUE_MS = 10 * 366 * DAY_MS
_DUE = re.compile(r"(\d+)\s*([dwy])")
_DAYS = {"d": 1, "w": 7, "y": 365}

ChannelArgument = Annotated[str, typer.Argument(help="The channel, as probe/name: north-air/rh.")]
SinceOption = Annotated[
    str | None, typer.Option("--since", help="From when it counts, also in the past. Default: when it was measured.")
]
TakenOption = Annotated[str | None, typer.Option("--taken", help="When it was measured. Default: now.")]
DueOption = Annotated[str, typer.Option("--due", help="When to repeat it: 180d, 26w, 1y after measuring, or a date.")]
RepeatabilityOption = Annotated[
    float | None,
    typer.Option("--repeatability", help="How well the probe repeats itself, k = 1. Default: 0.05 K, 0.5 % RH."),
]
DriftOption = Annotated[
    float | None, typer.Option("--drift", help="± it may wander in a year. Default: 0.1 K, 1.5 % RH (common practice).")
]
ShownOption = Annotated[
    bool | None,
    typer.Option("--shown/--raw", help="Readings given are as pages show them, or as the probe itself says them."),
]
NoteOption = Annotated[str, typer.Option(help="Anything else, for example the certificate's number.")]
YesOption = Annotated[bool, typer.Option("--yes", help="Store without asking.")]
JsonOption = Annotated[bool, typer.Option("--json", help="For programs; stores with --yes only.")]


def now_ms() -> int:
    """The present moment."""
    return time.time_ns() // 1_000_000


@dataclass(frozen=True, slots=True)
class Terms:
    """The dates and small print that all ways of calibrating share, as typed."""

    since: str | None
    taken: str | None
    due: str
    note: str
    who: str
    yes: bool
    as_json: bool


@dataclass(frozen=True, slots=True)
class Bench:
    """One channel on the bench, with everything that is known of it. Times are UTC milliseconds."""

    whole: SiteFolder
    journal: Journal
    channel: str
    stated: Stated
    calibrations: Calibrations
    now_ms: int
    taken_ms: int

    def newest_as(self, record: Record, following: Record | None) -> tuple[float, float] | None:
        """Give the newest good reading as it is shown now, and as it will be; None where it is not touched."""
        with self.journal.read() as conn:
            row = samples.newest_good_of(conn, self.channel)
        if row is None or row.measured_at_ms < record.valid_from_ms:
            return None
        if following is not None and row.measured_at_ms >= following.valid_from_ms:
            return None
        shown = self.calibrations.corrected(self.channel, row.value, row.measured_at_ms)
        return shown, record.line.corrected(row.value)

    def uncorrected(self, reading: float, shown: bool | None) -> float:
        """Give what the probe itself said, from a reading that somebody typed."""
        record = self.calibrations.in_force(self.channel, self.taken_ms)
        if record is None:
            return reading
        if shown is None:
            since = local_text(record.valid_from_ms, self.whole.zone)
            raise fail(
                f"{self.channel} is corrected since {since}, so pages show another figure than the probe. Say --shown "
                f"where {reading:g} was read from a page or alert, --raw where the probe itself said it."
            )
        return (reading - record.line.shift) / record.line.gain if shown else reading

    def listened(self, channel: str, end_ms: int) -> Settling:
        """Judge the readings of the last minutes, as the probe said them."""
        span_ms = self.span_ms(channel)
        with self.journal.read() as conn:
            readings = samples.good_between(conn, channel, end_ms - span_ms, end_ms, 0)
        return settling(stated_of(self.whole.site)[channel].quantity, readings, span_ms, end_ms)

    def span_ms(self, channel: str) -> int:
        """Give over how long readings are averaged: a quarter of an hour, longer for a probe that sends seldom."""
        interval_s = next(probe.interval_s for probe in self.whole.site.probes if probe.id == channel.partition("/")[0])
        return max(SPAN_MS, round(_READINGS_IN_SPAN * interval_s * 1000))


@contextmanager
def bench(whole: SiteFolder, channel: str, taken: str | None) -> Iterator[Bench]:
    """Look a channel up and open the journal. Ends with a sentence where there is no such channel."""
    known = stated_of(whole.site)
    if channel not in known:
        probe, _, name = channel.partition("/")
        of_probe = {each.name: each.quantity for one in whole.site.probes if one.id == probe for each in one.channels}
        if name in of_probe:
            raise fail(f"{channel} is a {of_probe[name]} contact, which is 0 or 1: there is nothing to calibrate.")
        raise fail(f"There is no channel {channel!r} in site.toml. {nearest(channel, known)}")
    now = now_ms()
    taken_ms = moment_ms(taken, whole.zone, "--taken") if taken else now
    refuse_future("--taken", taken_ms, now)
    with whole.journal() as journal:
        with journal.read() as conn:
            calibrations = stored.load(conn, whole.site)
        yield Bench(whole, journal, channel, known[channel], calibrations, now, taken_ms)


@contextmanager
def refusals() -> Iterator[None]:
    """End with a sentence where a rule of calibrating refuses what was given."""
    try:
        yield
    except StatedError as error:
        raise fail(f"{error.reason[:1].upper()}{error.reason[1:]}. {error.hint} Nothing was stored.") from error


def repeatability(given: float | None, stated: Stated) -> float:
    """Give the standard uncertainty by which a probe repeats itself, stated or usual."""
    return _within("--repeatability", given, usual(stated.quantity).repeatability_u, stated)


def drift(given: float | None, stated: Stated) -> float:
    """Give the plus or minus that a probe may wander in a year, stated or usual."""
    return _within("--drift", given, usual(stated.quantity).drift_per_year, stated)


def _within(option: str, given: float | None, default: float, stated: Stated) -> float:
    most = usual(stated.quantity).largest_shift
    if given is None:
        return default
    if not 0 <= given <= most:
        raise fail(f"{option}: {given:g} cannot be. Give 0 to {most:g} {usual(stated.quantity).unit}.")
    return given


def due_ms(text: str, taken_ms: int, whole: SiteFolder) -> int:
    """Give when to repeat a calibration, from a span after measuring or a date."""
    found = _DUE.fullmatch(text.strip().lower())
    moment = taken_ms + int(found[1]) * _DAYS[found[2]] * DAY_MS if found else moment_ms(text, whole.zone, "--due")
    if not taken_ms < moment <= taken_ms + _LONGEST_DUE_MS:
        raise fail(f"--due: {text} is not within ten years after measuring. Give for example 180d, 26w or 1y.")
    return moment


def conclude(at: Bench, line: Line, method: str, terms: Terms) -> None:
    """Show what a calibration changes, ask, and store it."""
    since_ms = moment_ms(terms.since, at.whole.zone, "--since") if terms.since else at.taken_ms
    refuse_future("--since", since_ms, at.now_ms)
    due = due_ms(terms.due, at.taken_ms, at.whole) if line.points else None
    who = terms.who or login_name()
    record = Record(at.channel, since_ms, line, method, at.taken_ms, due, at.now_ms, who, terms.note)
    calibrations = at.calibrations
    before, following = calibrations.in_force(at.channel, since_ms), calibrations.next_from(at.channel, since_ms)
    offer = Offer(record, at.stated, before, following, at.newest_as(record, following))
    if not terms.as_json:
        print(offer_text(offer, at.whole.zone))
    agreed = terms.yes or (not terms.as_json and typer.confirm("Store it?"))
    if agreed:
        at.journal.write(lambda conn: stored.append(conn, record))
    if terms.as_json:
        said = record_as_dict(record, at.stated.quantity) | {"remarks": remarks(offer), "stored": agreed}
        print(json.dumps(said, indent=2))
    else:
        print(
            "Stored. Pages, alerts and heat follow it, from that time on, while clutchwarden runs."
            if agreed
            else "Nothing was stored."
        )


def require_settled(found: Settling, at: Bench, channel: str) -> float:
    """Give the mean of readings that have settled. Ends with a sentence where they have not."""
    if found.mean is None or not found.settled:
        seen = "" if found.mean is None else f" Mean {found.mean:.2f} {unit_of(at.stated.quantity)}."
        raise fail(f"{channel}: {found.reason}{seen} Or give the reading yourself with --reading. Nothing was stored.")
    return found.mean


def refuse_future(option: str, moment: int, now: int) -> None:
    """End with a sentence where a moment has not come yet."""
    if moment > now:
        raise fail(f"{option} is in the future. Enter it when it is done; check this computer's clock as well.")
