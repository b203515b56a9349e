"""Pure: the window of hatching as it was foretold over time, against what happened."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from daemon.clutches.eggs import EggEvent, EggState
from daemon.development.window import HatchWindow, NoWindow
from daemon.reports.drawing import Chart, Mark, Point, svg_of
from daemon.reports.values import Block, Picture, Table, Words

MOST_MOMENTS = 16
_DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class Foretold:
    """What was to be expected at a moment (UTC ms)."""

    at_ms: int
    window: HatchWindow | NoWindow


@dataclass(frozen=True, slots=True)
class Hatched:
    """When eggs came out, UTC ms: the first and the last of `count`; None where none did."""

    count: int = 0
    first_ms: int | None = None
    last_ms: int | None = None


def moments_of(from_ms: int, until_ms: int) -> list[int]:
    """Give the moments to look at: once a week, or wider apart so that they are at most sixteen, and the end."""
    length_ms = max(until_ms - from_ms, 0)
    step_ms = max(7 * _DAY_MS, -(-length_ms // (MOST_MOMENTS - 1)))
    return [*range(from_ms + step_ms, until_ms, step_ms), until_ms] if until_ms > from_ms else []


def hatched_of(events: Sequence[EggEvent]) -> Hatched:
    """Give when eggs hatched by what stands of them: of each egg the first that was said of it."""
    first: dict[int, int] = {}
    for each in sorted(events, key=lambda one: (one.at_ms, one.number)):
        if each.stated.state is EggState.HATCHED and not each.withdrawn:
            first.setdefault(each.egg, each.at_ms)
    if not first:
        return Hatched()
    return Hatched(len(first), min(first.values()), max(first.values()))


def blocks_of(foretold: Sequence[Foretold], hatched: Hatched, zone: tzinfo) -> list[Block]:
    """Tell it in a table and a drawing, and whether each window held the first hatching."""
    rows = tuple(
        (day_text(each.at_ms, zone), *_window(each.window, zone), _held(each.window, hatched)) for each in foretold
    )
    head = ("Looked at on", "Earliest", "Likely", "Latest", "First hatching")
    found: list[Block] = [Words(_happened(hatched, zone)), Table("The window as foretold", head, rows)]
    windows = [(each.at_ms, each.window) for each in foretold if isinstance(each.window, HatchWindow)]
    if windows:
        found.append(Picture("foretold.svg", _drawn(windows, hatched, zone), _CAPTION))
    found.append(Words(_NOW))
    return found


_CAPTION = "The window as foretold on each day: earliest to latest in grey, the likely day as a line."
_NOW = (
    "Worked out now for each of these days, from what had been measured by then; with calibrations and the profile of "
    "the species as they are known today. A window is to hold the day in 9 of 10 cases."
)


def _drawn(windows: Sequence[tuple[int, HatchWindow]], hatched: Hatched, zone: tzinfo) -> str:
    points = [Point(at_ms, one.earliest_ms, one.likely_ms, one.latest_ms) for at_ms, one in windows]
    marks = [] if hatched.first_ms is None else [Mark(hatched.first_ms, "first hatched")]
    return svg_of(Chart("Day of hatching as foretold", "", points, (), marks, as_dates=True), zone)


def _happened(hatched: Hatched, zone: tzinfo) -> str:
    if hatched.first_ms is None or hatched.last_ms is None:
        return "No egg is on record as hatched."
    eggs = "1 egg hatched" if hatched.count == 1 else f"{hatched.count} eggs hatched"
    first, last = day_text(hatched.first_ms, zone), day_text(hatched.last_ms, zone)
    return f"{eggs}: {first}." if first == last else f"{eggs}, from {first} to {last}."


def _window(window: HatchWindow | NoWindow, zone: tzinfo) -> tuple[str, str, str]:
    if isinstance(window, NoWindow):
        return "no date", window.reason, ""
    return day_text(window.earliest_ms, zone), day_text(window.likely_ms, zone), day_text(window.latest_ms, zone)


def _held(window: HatchWindow | NoWindow, hatched: Hatched) -> str:
    if isinstance(window, NoWindow) or hatched.first_ms is None:
        return ""
    days = (hatched.first_ms - window.likely_ms) / _DAY_MS
    side = "later" if days >= 0 else "earlier"
    within = window.earliest_ms <= hatched.first_ms <= window.latest_ms
    return f"{'inside' if within else 'outside'}, {abs(days):.1f} days {side} than likely"


def day_text(at_ms: int, zone: tzinfo) -> str:
    """Write the day of a moment: `14 May 2026`."""
    moment = datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(zone)
    return f"{moment.day} {moment:%b %Y}"
