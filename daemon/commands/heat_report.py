"""What `clutchwarden heat` says: the sum, and how the table was read."""

from dataclasses import dataclass
from datetime import UTC, tzinfo

from daemon.clock import as_datetime
from daemon.development.degree_hours import Heat
from daemon.tabular.interpretation import left_out, read_as
from daemon.tabular.layout import Wanted
from daemon.tabular.record import ColumnTold, Manner, Told

_MS_PER_HOUR, _MS_PER_MINUTE = 3_600_000, 60_000


@dataclass(frozen=True, slots=True)
class Result:
    """A record's heat, and everything that was understood on the way."""

    file: str
    between_readings: Heat
    told: Told
    manner: Manner
    wanted: Wanted
    text_is: str
    zero_c: float
    cap_c: float | None
    bridge_ms: int

    @property
    def column(self) -> ColumnTold:
        """What was met in the temperature column."""
        return self.told.columns[0]

    @property
    def heat(self) -> Heat:
        """Over the whole table: rows without a reading before the first and after the last are missing time too."""
        whole_ms = self.told.last_ms - self.told.first_ms
        found = self.between_readings
        return Heat(found.degree_hours_ch, found.covered_ms, whole_ms - found.covered_ms)


def as_dict(result: Result) -> dict[str, object]:
    """For programs."""
    told, met, heat = result.told, result.column, result.heat
    return {
        "degree_hours_ch": heat.degree_hours_ch,
        "hours_covered": heat.covered_h,
        "hours_missing": heat.missing_h,
        "zero_c": result.zero_c,
        "cap_c": result.cap_c,
        "longest_gap_min": result.bridge_ms / _MS_PER_MINUTE,
        "readings": met.readings,
        "rows_without_reading": met.without_reading,
        "rows_repeated": met.repeated,
        "first": _utc(told.first_ms),
        "last": _utc(told.last_ms),
        "coldest_c": met.lowest,
        "warmest_c": met.highest,
        "read_as": read_as_words(result),
        "told": told.zone.turns,
    }


def as_text(result: Result) -> str:
    """For people."""
    heat, told = result.heat, result.told
    cap = "without a cap" if result.cap_c is None else f"capped at {result.cap_c:g} °C"
    lines = [f"{heat.degree_hours_ch:.2f} °C·h above {result.zero_c:g} °C, {cap}"]
    lines.append(f"{heat.covered_h:.2f} h covered, {heat.missing_h:.2f} h missing")
    if heat.missing_ms and result.cap_c is not None:
        most = heat.missing_h * (result.cap_c - result.zero_c)
        lines.append(f"The missing hours may hold anything from nothing to {most:.2f} °C·h more.")
    lines.append("read as:")
    lines += [f"  {key:<13}{value}" for key, value in read_as_words(result).items()]
    lines += [f"  {sentence}" for sentence in told.zone.turns]
    return "\n".join(lines)


def read_as_words(result: Result) -> dict[str, str]:
    """Every interpretation, and whether it was given or found out."""
    manner, told, met = result.manner, result.told, result.column
    return {
        **read_as(manner, result.wanted, told, result.text_is, "given"),
        "temperature": f"column {manner.layout.name(manner.layout.columns[0])}: {manner.columns[0].unit_words}",
        "readings": f"{met.readings}, {met.lowest:.1f} to {met.highest:.1f} °C",
        "from, to": f"{_local(told.first_ms, result)}, {_local(told.last_ms, result)}",
        "left out": left_out(told),
        "gaps": f"straight lines over up to {result.bridge_ms / _MS_PER_MINUTE:g} min; what is longer is missing",
    }


def _utc(moment_ms: int) -> str:
    return as_datetime(moment_ms).isoformat()


def _local(moment_ms: int, result: Result) -> str:
    zone: tzinfo = UTC
    if result.manner.zone is not None and not result.told.zone.written_offsets_ms:
        zone = result.manner.zone
    return as_datetime(moment_ms).astimezone(zone).strftime("%Y-%m-%d %H:%M:%S")
