"""What `clutchwarden hatch` says: the dates, how sure they are, and why; or why there is no date."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from daemon.development.basis import Basis
from daemon.development.window import LEVEL_PCT, MOST_TOLD_SHARE, HatchWindow, NoWindow


@dataclass(frozen=True, slots=True)
class Answer:
    """One clutch: what it is, its heat (None where none is counted), and its window. Times are UTC ms.

    What only readings of the clutch itself can tell is there with the clutches of a site. `read_from` says of each
    logger's file how it was read, `assumed` what is taken for the time that no file covers.
    """

    name: str
    basis: Basis | None
    laid_ms: tuple[int, int]
    heat_ch: tuple[float, float, float] | None
    share: float | None
    window: HatchWindow | NoWindow
    caution: str
    zone: ZoneInfo
    now_ms: int
    label: str | None = None
    stage: str = ""
    sex: str = ""
    exposure_limits: tuple[str, ...] = ()
    read_from: tuple[tuple[str, dict[str, str]], ...] = ()
    assumed: str = ""


def as_dict(answer: Answer) -> dict[str, object]:
    """For programs. Dates are days of the stated zone. Where there is none, `window` and the dates are null."""
    window, basis, zone = answer.window, answer.basis, answer.zone
    low_ch, best_ch, high_ch = answer.heat_ch or (None, None, None)
    dates: dict[str, object] = {"window": None, "earliest": None, "likely": None, "latest": None}
    spread: dict[str, object] = {"sd_days": None, "level_pct": None, "standing": None, "parts_sd_days": {}}
    if isinstance(window, HatchWindow):
        earliest, likely, latest = (_day(at, zone) for at in (window.earliest_ms, window.likely_ms, window.latest_ms))
        dates = {"window": [earliest, latest], "earliest": earliest, "likely": likely, "latest": latest}
        spread = {
            "sd_days": window.sd_days,
            "level_pct": LEVEL_PCT,
            "standing": window.standing,
            "parts_sd_days": dict(window.parts),
        }
    return {
        **({} if answer.label is None else _on_record(answer)),
        "name": answer.name,
        **dates,
        **spread,
        "share": answer.share,
        "degree_hours_low_ch": low_ch,
        "degree_hours_ch": best_ch,
        "degree_hours_high_ch": high_ch,
        "thermal_constant_ch": None if basis is None else basis.constant_ch,
        "developmental_zero_c": None if basis is None else basis.zero_c,
        "cap_c": None if basis is None else basis.cap_c,
        "kind": None if basis is None else basis.kind,
        "reason": window.reason,
        "caution": answer.caution or None,
        "laid": [_day(at, zone) for at in answer.laid_ms],
        "now": _day(answer.now_ms, zone),
        "time_zone": zone.key,
        **({"read_as": dict(answer.read_from), "assumed": answer.assumed} if answer.read_from else {}),
    }


def _on_record(answer: Answer) -> dict[str, object]:
    return {
        "label": answer.label,
        "stage": answer.stage or None,
        "sex": answer.sex or None,
        "exposure_limits": list(answer.exposure_limits),
    }


def as_text(answer: Answer) -> str:
    """For people."""
    window, zone = answer.window, answer.zone
    laid = " to ".join(dict.fromkeys(_day(at, zone) for at in answer.laid_ms))
    lines = [f"{answer.label + ': ' if answer.label else ''}{answer.name}, laid {laid}"]
    if isinstance(window, HatchWindow):
        lines.append(f"  earliest {_day(window.earliest_ms, zone)}")
        lines.append(f"  likely   {_day(window.likely_ms, zone)}")
        over = " (over)" if window.standing == "overdue" else ""
        lines.append(f"  latest   {_day(window.latest_ms, zone)}{over}")
    else:
        lines.append("  no date")
    lines += [f"  {line}" for line in _heat_lines(answer)]
    lines += [f"  {line}" for line in (*answer.exposure_limits, answer.stage) if line]
    lines.append(f"  {window.reason}")
    if isinstance(window, HatchWindow):
        lines.append(f"  What makes it unsure, ± days (all together {window.half_days:.1f}):")
        lines += [f"    {days:4.1f}  {name}" for name, days in window.half_parts if days >= _LEAST_TOLD_DAYS]
    if answer.sex:
        lines.append(f"  Sex: {answer.sex}")
    for file, manner in answer.read_from:
        lines += [f"  {file}, read as:", *(f"    {key:<13}{value}" for key, value in manner.items())]
    if answer.assumed:
        lines.append(f"  Assumed: {answer.assumed}")
    if answer.caution:
        lines.append(f"  Caution: {answer.caution}")
    return "\n".join(lines)


_LEAST_TOLD_DAYS = 0.05


def _heat_lines(answer: Answer) -> list[str]:
    basis = answer.basis
    if answer.heat_ch is None or basis is None:
        return []
    low_ch, best_ch, high_ch = answer.heat_ch
    between = f" (between {low_ch:,.0f} and {high_ch:,.0f})" if high_ch - low_ch >= 1 else ""
    share = "" if answer.share is None else f", {_percent(answer.share)} of {basis.constant_ch:,.0f}"
    return [f"{best_ch:,.0f} °C·h{between} above {basis.zero_c:.1f} °C by {_day(answer.now_ms, answer.zone)}{share}"]


def _percent(share: float) -> str:
    """Far above all that clutches differ by, a figure only looks as if it told something."""
    return f"more than {100 * MOST_TOLD_SHARE:.0f} %" if share > MOST_TOLD_SHARE else f"{100 * share:.0f} %"


def _day(at_ms: int, zone: ZoneInfo) -> str:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at_ms)
    return moment.astimezone(zone).date().isoformat()
