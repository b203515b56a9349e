"""What `clutchwarden hatch` says: the dates, how sure they are, and why; or why there is no date."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from daemon.development.basis import Basis
from daemon.development.window import LEVEL_PCT, HatchWindow, NoWindow


@dataclass(frozen=True, slots=True)
class Answer:
    """One clutch: what it is, its heat (None where none is counted), and its window. Times are UTC ms."""

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


def as_dict(answer: Answer) -> dict[str, object]:
    """For programs. Dates are days of the stated zone. Where there is none, `window` and the dates are null."""
    window, basis, zone = answer.window, answer.basis, answer.zone
    low_ch, best_ch, high_ch = answer.heat_ch or (None, None, None)
    dates: dict[str, object] = {"window": None, "earliest": None, "likely": None, "latest": None}
    spread: dict[str, object] = {"sd_days": None, "level_pct": None, "standing": None, "parts": {}}
    if isinstance(window, HatchWindow):
        earliest, likely, latest = (_day(at, zone) for at in (window.earliest_ms, window.likely_ms, window.latest_ms))
        dates = {"window": [earliest, latest], "earliest": earliest, "likely": likely, "latest": latest}
        spread = {
            "sd_days": window.sd_days,
            "level_pct": LEVEL_PCT,
            "standing": window.standing,
            "parts": dict(window.parts),
        }
    return {
        **({} if answer.label is None else {"label": answer.label}),
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
    }


def as_text(answer: Answer) -> str:
    """For people."""
    window, zone = answer.window, answer.zone
    laid = " to ".join(dict.fromkeys(_day(at, zone) for at in answer.laid_ms))
    lines = [f"{answer.label + ': ' if answer.label else ''}{answer.name}, laid {laid}"]
    if isinstance(window, HatchWindow):
        lines.append(f"  earliest {_day(window.earliest_ms, zone)}")
        lines.append(f"  likely   {_day(window.likely_ms, zone)}")
        lines.append(f"  latest   {_day(window.latest_ms, zone)}")
    else:
        lines.append("  no date")
    lines += [f"  {line}" for line in _heat_lines(answer)]
    lines.append(f"  {window.reason}")
    if isinstance(window, HatchWindow):
        lines.append(f"  What makes it unsure, ± days (all together {window.sd_days:.1f}, standard deviation):")
        lines += [f"    {days:4.1f}  {name}" for name, days in window.parts if days >= _LEAST_TOLD_DAYS]
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
    share = "" if answer.share is None else f", {100 * answer.share:.0f} % of {basis.constant_ch:,.0f}"
    return [f"{best_ch:,.0f} °C·h{between} above {basis.zero_c:g} °C by {_day(answer.now_ms, answer.zone)}{share}"]


def _day(at_ms: int, zone: ZoneInfo) -> str:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at_ms)
    return moment.astimezone(zone).date().isoformat()
