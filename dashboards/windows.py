"""When a clutch will hatch, as a page says and draws it. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.development.window import HatchWindow
from daemon.overview import ClutchNow
from dashboards import figures

BAR_WIDTH = 300
_SMALLEST_PART_DAYS = 0.1
_HEADINGS = {
    "ahead": "Hatching likely about {}",
    "open": "Hatching due: likely about {}",
    "overdue": "Overdue since {}",
}


@dataclass(frozen=True, slots=True)
class WindowView:
    """A window in words, and its drawing: laying at the left, the end of the window at the right.

    `elapsed` is how far it is by now, `band_left` and `band_width` where the window lies, `likely` its likely day; all
    in units of a bar of 300. `parts` says how much each uncertainty brings, nine in ten like the window.
    """

    heading: str
    between: str
    why: str
    parts: tuple[str, ...]
    elapsed: float
    band_left: float
    band_width: float
    likely: float


def window_view(clutch: ClutchNow, now_ms: int, zone: ZoneInfo) -> WindowView | None:
    """The window of a clutch; None where there is none, and then the clutch says why."""
    window = clutch.window
    if not isinstance(window, HatchWindow):
        return None
    earliest, likely, latest = (
        figures.local(moment, zone) for moment in (window.earliest_ms, window.likely_ms, window.latest_ms)
    )
    named = latest if window.standing == "overdue" else likely
    start_ms, end_ms = clutch.laid_from_ms, max(window.latest_ms, now_ms)

    def across(moment_ms: int) -> float:
        share = (moment_ms - start_ms) / max(end_ms - start_ms, 1)
        return round(min(max(share, 0.0), 1.0) * BAR_WIDTH, 1)

    return WindowView(
        heading=_HEADINGS[window.standing].format(figures.date_text(named)),
        between=f"In 9 of 10 cases: {figures.date_range(earliest, latest)}",
        why=window.reason,
        parts=tuple(
            f"{name}: ±{figures.NBSP}{days:.1f}{figures.NBSP}d"
            for name, days in window.half_parts
            if days >= _SMALLEST_PART_DAYS
        ),
        elapsed=across(now_ms),
        band_left=across(window.earliest_ms),
        band_width=round(across(window.latest_ms) - across(window.earliest_ms), 1),
        likely=across(window.likely_ms),
    )
