"""What `clutchwarden import` shows before it stores anything: how the file was read, and what it would add."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from zoneinfo import ZoneInfo

from daemon.alarms.figures import duration_text, value_text
from daemon.clock import as_datetime
from daemon.commands.import_reading import Judged, Record, Target
from daemon.storage.imports import Comparison, Stored
from daemon.tabular.interpretation import left_out, read_as

_MOST_CONFLICTS = 10
_S_PER_MS = 0.001


@dataclass(frozen=True, slots=True)
class Report:
    """All that is known of an import. `zone` is the site's, `bridge_ms` what heat still bridges."""

    record: Record
    targets: tuple[Target, ...]
    judged: tuple[Judged, ...]
    compared: tuple[Comparison, ...]
    zone: ZoneInfo
    zone_origin: str
    fahrenheit: bool
    bridge_ms: int

    @property
    def new(self) -> int:
        """How many readings the journal lacks."""
        return sum(len(one.new.times_ms) for one in self.compared)


@dataclass(frozen=True, slots=True)
class Gaps:
    """Where a column holds nothing for longer than heat bridges. The longest as (from, to), UTC ms."""

    count: int
    usual_ms: float
    longest: tuple[int, int] | None


def gaps(times_ms: Sequence[int], bridge_ms: int) -> Gaps:
    """Find the gaps between readings."""
    steps = [after - earlier for earlier, after in pairwise(times_ms)]
    long = [pair for pair in pairwise(times_ms) if pair[1] - pair[0] > bridge_ms]
    longest = max(long, key=lambda pair: pair[1] - pair[0], default=None)
    return Gaps(len(long), median(steps) if steps else 0, longest)


def as_text(report: Report) -> str:
    """For people."""
    told, record = report.record.told, report.record
    read = {
        **read_as(record.manner, record.wanted, told, record.text_is, report.zone_origin),
        "first row": _both(told.first_ms, report.zone),
        "last row": _both(told.last_ms, report.zone),
        "rows": f"{told.rows} over {duration_text(told.last_ms - told.first_ms)}",
        "left out": left_out(told),
    }
    lines = [f"{record.file}, read as:"]
    lines += [f"  {key:<13}{value}" for key, value in read.items()]
    lines += [f"  {sentence}" for sentence in told.zone.turns]
    for place in range(len(report.targets)):
        lines += _channel_lines(report, place)
    return "\n".join(lines)


def as_dict(report: Report, stored: Stored | None, *, dry_run: bool) -> dict[str, object]:
    """For programs. `stored` is None where nothing was to be stored."""
    record = report.record
    told = record.told
    return {
        "file": str(record.file),
        "dry_run": dry_run,
        "stored": 0 if stored is None else stored.new,
        "locked_s": 0.0 if stored is None else round(stored.locked_s, 3),
        "rows": told.rows,
        "first": _utc(told.first_ms),
        "last": _utc(told.last_ms),
        "first_local": _local(told.first_ms, report.zone),
        "last_local": _local(told.last_ms, report.zone),
        "read_as": read_as(record.manner, record.wanted, told, record.text_is, report.zone_origin),
        "told": told.zone.turns,
        "channels": [_channel_dict(report, place) for place in range(len(report.targets))],
    }


def _channel_lines(report: Report, place: int) -> list[str]:
    target, judged, compared = report.targets[place], report.judged[place], report.compared[place]
    met, found = report.record.told.columns[place], gaps(judged.series.times_ms, report.bridge_ms)
    layout, quantity = report.record.manner.layout, target.key.quantity
    low, high = (value_text(value, quantity, report.fahrenheit) for value in (met.lowest, met.highest))
    usual = f", usually one every {found.usual_ms * _S_PER_MS:g} s" if found.usual_ms else ""
    facts = {
        "from": f"column {layout.name(layout.columns[place])}, read as {target.column.unit_words}",
        "readings": f"{met.readings}, {low} to {high}{usual}",
        "gaps": _gaps_text(found, report),
        "journal": f"{len(compared.new.times_ms)} new, {compared.duplicates} there already, "
        f"{len(compared.conflicts)} with another value there",
        "suspect": f"{judged.suspect}; kept with that flag, and never counted as heat" if judged.suspect else "none",
    }
    lines = [f"for {target.key.channel} ({quantity.value.replace('_', ' ')}):"]
    lines += [f"  {key:<13}{value}" for key, value in facts.items()]
    for one in judged.suspicions.values():
        lines.append(f"    {one.count} like the one of {_local(one.first_ms, report.zone)}: {one.reason}")
    lines += _conflict_lines(report, place)
    return lines


def _conflict_lines(report: Report, place: int) -> list[str]:
    conflicts = report.compared[place].conflicts
    if not conflicts:
        return []
    unit = "°C" if report.targets[place].key.quantity.is_temperature else "% RH"
    lines = [f"    What the journal has stays ({unit} there, {unit} in the file):"]
    lines += [
        f"    {_local(one.measured_at_ms, report.zone)}: {one.stored:.10g}, {one.offered:.10g}"
        for one in conflicts[:_MOST_CONFLICTS]
    ]
    more = len(conflicts) - _MOST_CONFLICTS
    return [*lines, f"    and {more} more; --json lists all"] if more > 0 else lines


def _gaps_text(found: Gaps, report: Report) -> str:
    limit = duration_text(report.bridge_ms)
    if found.longest is None:
        return f"none over {limit}"
    start, end = found.longest
    return f"{found.count} over {limit}, the longest {duration_text(end - start)} from {_local(start, report.zone)}"


def _channel_dict(report: Report, place: int) -> dict[str, object]:
    target, judged, compared = report.targets[place], report.judged[place], report.compared[place]
    met, found = report.record.told.columns[place], gaps(judged.series.times_ms, report.bridge_ms)
    layout = report.record.manner.layout
    longest = None if found.longest is None else [_utc(moment) for moment in found.longest]
    return {
        "channel": target.key.channel,
        "column": layout.name(layout.columns[place]),
        "unit": target.column.unit,
        "readings": met.readings,
        "rows_without_reading": met.without_reading,
        "rows_repeated": met.repeated,
        "lowest": met.lowest,
        "highest": met.highest,
        "usual_interval_s": found.usual_ms * _S_PER_MS,
        "gaps": found.count,
        "longest_gap": longest,
        "new": len(compared.new.times_ms),
        "duplicates": compared.duplicates,
        "conflicts": [
            {"at": _utc(one.measured_at_ms), "stored": one.stored, "offered": one.offered} for one in compared.conflicts
        ],
        "suspect": judged.suspect,
        "suspect_like": [
            {"count": one.count, "first": _utc(one.first_ms), "reason": one.reason}
            for one in judged.suspicions.values()
        ],
    }


def _both(moment_ms: int, zone: ZoneInfo) -> str:
    utc = as_datetime(moment_ms).strftime("%Y-%m-%d %H:%M:%S")
    return f"{_local(moment_ms, zone)} in {zone.key}, {utc} UTC"


def _utc(moment_ms: int) -> str:
    return as_datetime(moment_ms).isoformat()


def _local(moment_ms: int, zone: ZoneInfo) -> str:
    return as_datetime(moment_ms).astimezone(zone).strftime("%Y-%m-%d %H:%M:%S")
