"""`clutchwarden mirror`: how far the copy in an InfluxDB is, fill it, compare it, and restore a journal from it."""

import sqlite3
import time
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated

import typer

from daemon.alarms.figures import clock_text, duration_text
from daemon.chain_rules import DAY_MS, day_name
from daemon.commands.progress import counting
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, fail, read_site
from daemon.mirror.points import ALARM_EVENT, READING
from daemon.mirror.target import Target, target_of
from daemon.mirror_compare import DayCompared, Mender, MirrorCompare
from daemon.mirror_filling import fill
from daemon.mirror_query import MirrorReader
from daemon.mirror_restore import restore as restore_journal
from daemon.storage import identity, mirror
from daemon.storage.journal import Journal

app = typer.Typer(
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="The copy of the journal in an InfluxDB: state, filling, comparing, restoring.",
)

EXIT_DIFFERS = 1
_SHOWN = 20
NOT_THERE = (
    "Not in a mirror, and so not restored: the register (clutches, eggs, placements), rounds and photos, calibrations,"
    " what people did about alarms, accounts, and messages that were refused. A backup has all of these."
)
SinceOption = Annotated[str, typer.Option("--since", help="From this day on, UTC, as 2026-08-03.")]


@app.command()
def status(site: SiteOption = HERE) -> None:
    """Say how far the mirror is, what it refused, and what is wrong with it. Asks the journal alone."""
    whole = read_site(site)
    target = _target(whole)
    with _journal(whole) as journal, journal.read() as conn:
        # By these tags its points are known there.
        who = f'the site "{whole.site.name}", journal {identity.journal_id(conn)}'
        state, waiting = mirror.state(conn, target.key), mirror.backlog(conn, target.key)
        parked, count = mirror.parked(conn, target.key, _SHOWN), mirror.count_parked(conn, target.key)
        done, _ = mirror.cursors(conn, target.key)
    now_ms = _now_ms()
    print(f"Mirror: {target.address}. Its points are those of {who}.")
    print(f"It has {done:,} readings; {waiting.readings:,} readings and {waiting.events:,} alarm events wait.")
    if waiting.readings:
        print(f"The oldest of them has waited for {duration_text(max(now_ms - waiting.oldest_ms, 0))}.")
    if state is None:
        print("The service has not begun with it yet.")
    elif state.trouble:
        since = clock_text(state.trouble_since_ms or now_ms, now_ms, whole.zone)
        print(f"Nothing gets there since {since}: {state.trouble}. The service goes on trying.")
    elif state.progress_ms is not None:
        print(f"All was well {clock_text(state.progress_ms, now_ms, whole.zone)}.")
    if count:
        print(f"It refused {_points(count)}. Once it takes them: clutchwarden mirror compare --mend")
    for each in parked:
        what = f"{each.source} {each.number}" if each.number else each.source
        print(f"  {what}: {each.reason}")


@app.command()
def backfill(site: SiteOption = HERE, since: SinceOption = "") -> None:
    """Write everything to the mirror now: readings, derived values, alarm events. Also beside a running service."""
    whole = read_site(site)
    target, began_s = _target(whole), time.monotonic()
    since_ms = _day_ms(since) if since else None
    with _journal(whole) as journal, counting("Filling the mirror") as started:
        found = fill(journal, whole.site, whole.settings.mirror, _now_ms, since_ms, started)
    took_s = max(time.monotonic() - began_s, 1e-3)
    print(f"{found.readings:,} readings are in {target.address}, {took_s:.0f} s.")
    if found.parked:
        print(f"It refused {_points(found.parked)} in all; clutchwarden mirror status says which, and why.")


@app.command()
def compare(
    site: SiteOption = HERE,
    since: SinceOption = "",
    mend: Annotated[bool, typer.Option("--mend", help="Write once more what is missing or different there.")] = False,
) -> None:
    """Read the mirror back and hold it against the journal: each channel and UTC day, to the last bit."""
    whole = read_site(site)
    target, settings = _target(whole), whole.settings.mirror
    with _journal(whole) as journal:
        if mend:
            journal.write(lambda conn: _try_again(conn, target.key))
        differing = _compared(journal, whole, since)
        if differing and mend:
            mender = Mender(journal, whole.site, settings, _now_ms)
            try:
                written = sum(mender.mend(each) for each in differing)
            finally:
                mender.close()
            print(f"Written once more: {_points(written)}. Comparing those days again:")
            differing = _compared(journal, whole, day_name(min(each.start_ms for each in differing) // DAY_MS))
    if differing:
        if not mend:
            print("To write once more what is missing or different: clutchwarden mirror compare --mend")
        raise typer.Exit(EXIT_DIFFERS)


@app.command()
def restore(
    to: Annotated[Path, typer.Option("--to", help="The new journal file; it must not be there yet.")],
    site: SiteOption = HERE,
    journal: Annotated[str, typer.Option("--journal", help="Which one, where several bore the name of the site.")] = "",
) -> None:
    """Make a new journal out of the mirror, where the old one is lost, and prove it. It holds no register."""
    whole = read_site(site)
    target = _target(whole)
    with counting("Reading the mirror") as copying, counting("Proving it") as proving:
        found = restore_journal(to, whole.settings.mirror, whole.site.name, copying, proving, journal)
    first, last = (f"{datetime.fromtimestamp(at_ms / 1000, UTC):%Y-%m-%d %H:%M}" for at_ms in found[4:])
    print(
        f"{to}: {found.readings:,} readings of {found.channels} channels, {first} to {last} UTC, and {found.events:,}"
        f" alarm events. Each day is the same as in {target.address}."
    )
    if found.gaps:
        print(f"The mirror lacks readings that the journal had: {found.gaps:,}. Those behind them have new numbers.")
    print(NOT_THERE)
    print(f"To go on with it: end the service, and let [storage] journal in settings.toml name {to}.")


def _compared(journal: Journal, site: SiteFolder, since: str) -> list[DayCompared]:
    """Compare and say so; gives the days that differ."""
    target, settings = _target(site), site.settings.mirror
    days, readings, parked, differing = 0, 0, 0, list[DayCompared]()
    with MirrorReader(settings) as reader, counting("Comparing") as started:
        comparing = MirrorCompare(journal, reader, target.key)
        for each in comparing.days(_day_ms(since) if since else 0, started):
            days, readings, parked = days + 1, readings + each.rows, parked + each.difference.parked
            if each.difference.to_mend or each.difference.extra:
                differing.append(each)
    print(f"Compared with {target.address}: {readings:,} readings and events, {days:,} days of a channel.")
    for each in differing[:_SHOWN]:
        print(f"  {_told(each)}")
    if len(differing) > _SHOWN:
        print(f"  ... and {len(differing) - _SHOWN:,} more")
    if parked:
        print(f"Not there because refused: {_points(parked)}; see clutchwarden mirror status.")
    print(f"Days that differ: {len(differing):,}." if differing else "No difference.")
    return differing


def _told(day: DayCompared) -> str:
    found = day.difference
    parts = [
        f"{count:,} {word}"
        for count, word in (
            (len(found.missing), "missing there"),
            (len(found.different), "different there"),
            (found.extra, "there that the journal has not (left as they are)"),
        )
        if count
    ]
    return f"{day_name(day.start_ms // DAY_MS)} {day.what}: {', '.join(parts)} (of {day.rows:,})"


def _points(count: int) -> str:
    return f"{count:,} point{'' if count == 1 else 's'}"


def _try_again(conn: sqlite3.Connection, target: str) -> None:
    for source in (READING, ALARM_EVENT):
        mirror.unpark(conn, target, source)


def _target(site: SiteFolder) -> Target:
    if not site.settings.mirror.enabled:
        raise fail("No mirror is stated: write [mirror] with url and bucket into settings.toml.")
    return target_of(site.settings.mirror)


def _journal(site: SiteFolder) -> Journal:
    if not site.journal_path.exists():
        raise fail(f"There is no journal yet at {site.journal_path}.")
    return site.journal()


def _day_ms(typed: str) -> int:
    try:
        day = date.fromisoformat(typed.strip())
    except ValueError:
        raise fail(f'"{typed}" is not a day. Write it as 2026-08-03.') from None
    return (day - date(1970, 1, 1)).days * DAY_MS


def _now_ms() -> int:
    return time.time_ns() // 1_000_000
