"""What the `calibrate` commands share: options, looking things up, taking a reading, and asking before storing."""

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Annotated

import typer

from config.errors import StatedError
from daemon.calibration_bench import (
    NOT_YET,
    Bench,
    Dates,
    bench_of,
    due_ms_of,
    settled_point,
    within_reason,
)
from daemon.calibration_text import offer_text, record_as_dict, remarks
from daemon.commands.moments import moment_ms
from daemon.commands.site_folder import SiteFolder, fail, login_name
from daemon.local_moments import local_text
from daemon.storage import calibrations as stored
from sensors.calibration import Stated
from sensors.calibration_line import Line, usual
from sensors.calibration_scale import Scale
from sensors.settling import Settling

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


def uncorrected(at: Bench, reading: float, shown: bool | None) -> float:
    """Give what the probe itself said, from a reading that somebody typed. Ends where that cannot be told."""
    record = at.corrected_since
    if record is not None and shown is None:
        since = local_text(record.valid_from_ms, at.zone)
        raise fail(
            f"{at.channel} is corrected since {since}, so pages show another figure than the probe. Say --shown "
            f"where {reading:g} was read from a page or alert, --raw where the probe itself said it."
        )
    return at.uncorrected(reading, bool(shown))


@contextmanager
def bench(whole: SiteFolder, channel: str, taken: str | None) -> Iterator[Bench]:
    """Look a channel up and open the journal. Ends with a sentence where there is no such channel."""
    now = now_ms()
    taken_ms = moment_ms(taken, whole.zone, "--taken") if taken else now
    refuse_future("--taken", taken_ms, now)
    with whole.journal() as journal:
        try:
            at = bench_of(whole.site, journal, channel, now, taken_ms)
        except StatedError as error:
            raise fail(f"{error.reason}. {error.hint}") from error
        yield at


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
    try:
        return within_reason(given, default, Scale(stated.quantity))
    except StatedError as error:
        raise fail(f"{option}: {error.reason}. {error.hint}") from error


def _due_ms(text: str, at: Bench) -> int:
    try:
        return due_ms_of(text, at.taken_ms, at.zone)
    except StatedError as error:
        raise fail(f"--due: {error.reason}. {error.hint}") from error


def conclude(at: Bench, line: Line, method: str, terms: Terms) -> None:
    """Show what a calibration changes, ask, and store it."""
    since_ms = moment_ms(terms.since, at.zone, "--since") if terms.since else at.taken_ms
    refuse_future("--since", since_ms, at.now_ms)
    due_ms = _due_ms(terms.due, at) if line.points else 0
    offer = at.offer(line, method, Dates(since_ms, due_ms), terms.who or login_name(), terms.note)
    record = offer.record
    if not terms.as_json:
        print(offer_text(offer, at.zone))
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


def require_settled(found: Settling, at: Bench, channel: str) -> tuple[float, float]:
    """Give the mean of readings that have settled, and their scatter. Ends with a sentence where they have not."""
    try:
        return settled_point(found, at.scale)
    except StatedError as error:
        raise fail(
            f"{channel}: {error.reason} Or give the reading yourself with --reading. Nothing was stored."
        ) from error


def refuse_future(option: str, moment: int, now: int) -> None:
    """End with a sentence where a moment has not come yet."""
    if moment > now:
        raise fail(f"{option} is in the future. {NOT_YET}")
