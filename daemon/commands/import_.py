"""`clutchwarden import`: a logger's CSV into the journal, all of it or nothing, also beside a running daemon."""

import json
import sqlite3
from dataclasses import dataclass

import typer

from config.plain import nearest
from config.words import Quantity
from daemon.clock import SystemClock
from daemon.commands.import_options import (
    DryRunOption,
    HumidityColumnOption,
    HumidityToOption,
    HumidityUnitOption,
    JsonOption,
    RecordArgument,
    SiteArgument,
    TemperatureColumnOption,
    ToOption,
    YesOption,
    ZoneOption,
)
from daemon.commands.import_reading import Judged, Record, Target, judged, read_record
from daemon.commands.import_report import Report, as_dict, as_text
from daemon.commands.progress import waiting
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, fail, read_site
from daemon.commands.table_options import (
    DecimalOption,
    DelimiterOption,
    TimeColumnOption,
    TimeFormatOption,
    UnitOption,
    wanted_table,
    zone_named,
)
from daemon.storage import imports
from daemon.storage.imports import Comparison, Stored
from daemon.storage.journal import JournalError
from daemon.tabular.cells import Column
from daemon.tabular.errors import TableError
from sensors.decoder import Decoder

JUDGE_MEMORY_MS = 25 * 3_600_000
"""So far back before the file the judgement looks: a stuck coarse probe needs a day to be seen."""
_NOTHING = "Nothing was stored."


def import_record(
    site: SiteArgument,
    file: RecordArgument = None,
    *,
    time_column: TimeColumnOption,
    temperature_column: TemperatureColumnOption = None,
    to: ToOption = None,
    humidity_column: HumidityColumnOption = None,
    humidity_to: HumidityToOption = None,
    time_zone: ZoneOption = None,
    unit: UnitOption = "C",
    humidity_unit: HumidityUnitOption = "percent",
    delimiter: DelimiterOption = None,
    decimal: DecimalOption = None,
    time_format: TimeFormatOption = None,
    stated: SiteOption = HERE,
    dry_run: DryRunOption = False,
    yes: YesOption = False,
    as_json: JsonOption = False,
) -> None:
    """Bring a logger's record into the journal. Every row is understood, or nothing is stored."""
    if as_json and not (yes or dry_run):
        raise fail("--json asks nothing, so give --yes to store, or --dry-run to look.")
    folder, file = (stated, site) if file is None else (site, file)
    whole = read_site(folder)
    zone = zone_named(time_zone)
    temperature = _target(whole, "temperature", temperature_column, "--to", to, unit)
    humidity = _target(whole, "humidity", humidity_column, "--humidity-to", humidity_to, humidity_unit)
    targets = tuple(target for target in (temperature, humidity) if target is not None)
    if not targets:
        raise fail("Give --temperature-column with --to, or --humidity-column with --humidity-to, or both pairs.")
    latest_ms = _now_ms() + round(whole.settings.ingest.future_tolerance_s * 1000)
    try:
        wanted = wanted_table(time_column, tuple(each.column for each in targets), delimiter, decimal, time_format)
        record = read_record(file, wanted, zone or whole.zone, latest_ms)
    except TableError as error:
        raise fail(f"{file}: {error}\n  {_NOTHING}") from error
    try:
        _go_on(whole, record, targets, "given" if zone else "the site's", _Asked(dry_run, yes, as_json))
    except JournalError as error:
        raise fail(f"{error}\n  Nothing of {file} was stored. Give the command again once that is mended.") from error


@dataclass(frozen=True, slots=True)
class _Asked:
    dry_run: bool
    yes: bool
    as_json: bool


def _go_on(whole: SiteFolder, record: Record, targets: tuple[Target, ...], zone_origin: str, asked: _Asked) -> None:
    """Compare with the journal, show, ask, store."""
    with waiting("Comparing with the journal"):
        report = _report(whole, record, targets, zone_origin)
    if not asked.as_json:
        print(as_text(report))
    stored = None
    if report.new and not asked.dry_run and (asked.yes or _agreed(report)):
        with waiting("Storing"):
            stored = imports.store(whole.journal_path, [one.new for one in report.compared], _now_ms())
        if stored.new != report.new:
            # Somebody else stored some of it meanwhile; what they stored came first.
            report = _report(whole, record, targets, zone_origin)
    if asked.as_json:
        print(json.dumps(as_dict(report, stored, dry_run=asked.dry_run), indent=2))
    else:
        print(_outcome(report, stored, asked))


def _report(whole: SiteFolder, record: Record, targets: tuple[Target, ...], zone_origin: str) -> Report:
    if whole.journal_path.exists():
        with whole.journal() as journal, journal.read() as conn:
            found = tuple(_judged(conn, record, place, target) for place, target in enumerate(targets))
            compared = tuple(imports.compare(conn, one.series) for one in found)
    else:
        # A look must not leave a journal behind.
        found = tuple(_judged(None, record, place, target) for place, target in enumerate(targets))
        compared = tuple(Comparison(one.series, 0, ()) for one in found)
    fahrenheit = whole.site.temperature_unit == "F"
    bridge_ms = int(whole.settings.heat.longest_bridge_s * 1000)
    return Report(record, targets, found, compared, whole.zone, zone_origin, fahrenheit, bridge_ms)


def _judged(conn: sqlite3.Connection | None, record: Record, place: int, target: Target) -> Judged:
    times_ms = record.times_ms[place]
    before = imports.before(conn, target.key.channel, times_ms[0], JUDGE_MEMORY_MS) if conn else []
    return judged(target.key, times_ms, record.values[place], before)


def _agreed(report: Report) -> bool:
    try:
        return typer.confirm(f"Store {report.new} readings?", err=True)
    except typer.Abort:
        raise fail(f"{_NOTHING} Where nobody can answer, give --yes.") from None


def _outcome(report: Report, stored: Stored | None, asked: _Asked) -> str:
    if stored is not None:
        return (
            f"Stored {stored.new} readings; the journal was held for {stored.locked_s:.1f} s. "
            "A running daemon counts their heat within a moment, otherwise the next start does."
        )
    if not report.new:
        return "There is nothing to store: the journal has a value for each of these times."
    return f"{_NOTHING} This was a look only (--dry-run)." if asked.dry_run else _NOTHING


def _target(
    whole: SiteFolder, what: str, word: str | None, option: str, channel: str | None, unit: str
) -> Target | None:
    """The column and the channel of one pair of options; None where neither is given."""
    if word is None and channel is None:
        return None
    if word is None or channel is None:
        raise fail(f"--{what}-column and {option} belong together: give both.")
    channels = Decoder(whole.site).channels
    fitting = {name: key for name, key in channels.items() if _fits(key.quantity, what)}
    key = channels.get(channel)
    if key is None:
        raise fail(f'{option}: there is no channel "{channel}" in site.toml. {nearest(channel, fitting)}')
    if channel not in fitting:
        quantity = key.quantity.value.replace("_", " ")
        raise fail(f"{option}: {channel} is the {quantity} of its probe. {nearest(channel, fitting)}")
    return Target(Column(word, key.quantity, unit, any_value=True), key)


def _fits(quantity: Quantity, what: str) -> bool:
    return quantity.is_temperature if what == "temperature" else quantity is Quantity.RELATIVE_HUMIDITY


def _now_ms() -> int:
    return SystemClock().now_ms()
