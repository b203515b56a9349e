"""One clutch on the page. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.development.window import MOST_TOLD_SHARE, HatchWindow
from daemon.overview import ClutchNow, IncubatorNow
from dashboards import figures
from dashboards.places import place_name
from dashboards.windows import WindowView, window_view

BAR_WIDTH = 300
SHORTEST_TOLD_H = 0.5
"""Less is the time since the newest reading, which is no gap; a gap that heat is not counted over is longer."""
_IN_DAYS_FROM_H = 48
_HOURS_PER_DAY = 24
_DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class ClutchView:
    """Texts of one clutch; `key` names it on the page, `path` is that of its own page.

    `heat` and `share` are empty where there is none, and `note` says why. `sure` is the interval of the heat, `rate`
    that of the last days, `counted` how heat is counted, `exposure` what passed the cap or fell below the zero.
    `limits` are the exposure limits that are or may be passed, each with its verdict apart; `sex` what is told of it.
    """

    key: str
    path: str
    label: str
    species: str
    place: str
    eggs: str
    days: str
    laid: str
    heat: str
    sure: str
    share: str
    share_width: float
    rate: str
    window: WindowView | None
    note: str
    counted: str
    caution: str
    missing: str
    exposure: tuple[str, ...]
    limits: tuple[tuple[str, str], ...]
    stage: str
    sex: str


def clutch_view(
    clutch: ClutchNow, incubator: IncubatorNow, now_ms: int, zone: ZoneInfo, *, fahrenheit: bool
) -> ClutchView:
    """Where a clutch lies, how long, the heat it has had, and when it will hatch."""
    first, last = (figures.local(moment, zone) for moment in (clutch.laid_from_ms, clutch.laid_to_ms))
    share = clutch.share
    return ClutchView(
        key=f"clutch-{clutch.clutch_id}",
        path=f"/clutches/{clutch.clutch_id}",
        label=clutch.label,
        species=clutch.species_name,
        place=place_name(incubator, clutch.place),
        eggs=f"{clutch.egg_count} egg{'' if clutch.egg_count == 1 else 's'}",
        days=_days(clutch.set_up_ms, now_ms),
        laid=f"laid {figures.date_range(first, last)}",
        heat=_heat(clutch),
        sure=_sure(clutch),
        share="" if share is None else _percent(share),
        share_width=0.0 if share is None else round(min(max(share, 0.0), 1.0) * BAR_WIDTH, 1),
        rate=_rate(clutch, fahrenheit=fahrenheit),
        window=window_view(clutch, now_ms, zone),
        note=_note(clutch),
        counted=clutch.counted,
        caution=clutch.caution,
        missing=_missing(clutch.hours_missing),
        exposure=_exposure(clutch),
        limits=tuple(_verdict_apart(sentence) for sentence in clutch.exposure_limits),
        stage=clutch.stage,
        sex=clutch.sex,
    )


def _days(set_up_ms: int, now_ms: int) -> str:
    days = (now_ms - set_up_ms) // _DAY_MS
    if days < 0:
        return "set-up lies ahead"
    return f"{days} day{'' if days == 1 else 's'} since set-up"


def _heat(clutch: ClutchNow) -> str:
    if clutch.degree_hours_ch is None:
        return ""
    if clutch.share is None or clutch.thermal_constant_ch is None:
        return str(figures.heat(clutch.degree_hours_ch))
    return f"{figures.heat(clutch.degree_hours_ch).number} of {figures.heat(clutch.thermal_constant_ch)}"


def _percent(share: float) -> str:
    return f"more than {figures.percent(MOST_TOLD_SHARE)}" if share > MOST_TOLD_SHARE else figures.percent(share)


def _sure(clutch: ClutchNow) -> str:
    if clutch.degree_hours_low_ch is None or clutch.degree_hours_high_ch is None:
        return ""
    low, high = figures.heat(clutch.degree_hours_low_ch), figures.heat(clutch.degree_hours_high_ch)
    return f"between {low.number} and {high}"


def _rate(clutch: ClutchNow, *, fahrenheit: bool) -> str:
    """The heat of now and of the last days, and the temperature that gave it."""
    if clutch.recent_rate_k is None or clutch.recent_mean_c is None:
        return ""
    mean = figures.temperature(clutch.recent_mean_c, fahrenheit)
    per_hour = f"{figures.NBSP}°C·h each hour"
    now = "" if clutch.rate_now_k is None else f"{figures.number(clutch.rate_now_k)}{per_hour} now, "
    return f"{now}{figures.number(clutch.recent_rate_k)}{per_hour} of the last 3 days, at {mean} on average"


def _note(clutch: ClutchNow) -> str:
    """Why there is no heat, no share or no date, each told once."""
    if clutch.reason or isinstance(clutch.window, HatchWindow):
        return clutch.reason
    return clutch.window.reason


def _missing(hours: float) -> str:
    if hours < SHORTEST_TOLD_H:
        return ""
    return f"{_span(hours)} without readings: the heat of that time is estimated"


def _exposure(clutch: ClutchNow) -> tuple[str, ...]:
    told = (
        (clutch.hours_above_cap, "above the cap: counted as at the cap, not faster"),
        (clutch.hours_below_zero, "below the zero: counted as standing still"),
    )
    return tuple(f"About {_span(hours)} {what}" for hours, what in told if hours >= SHORTEST_TOLD_H)


def _span(hours: float) -> str:
    if hours >= _IN_DAYS_FROM_H:
        return f"{hours / _HOURS_PER_DAY:.0f}{figures.NBSP}days"
    return f"{figures.number(hours)}{figures.NBSP}h"


def _verdict_apart(sentence: str) -> tuple[str, str]:
    verdict, _, reason = sentence.partition(": ")
    return f"{verdict}:", reason
