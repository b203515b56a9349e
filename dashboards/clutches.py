"""One clutch on the page. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.overview import ClutchNow, IncubatorNow
from dashboards import figures
from dashboards.places import place_name

BAR_WIDTH = 300
SHORTEST_TOLD_H = 0.5
"""Less is the time since the newest reading, which is no gap; a gap that heat is not counted over is longer."""
_DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class ClutchView:
    """Texts of one clutch; `key` names it on the page.

    `heat` and `share` are empty where there is none; `note` says why. `counted` says how heat is counted.
    """

    key: str
    label: str
    species: str
    place: str
    eggs: str
    days: str
    laid: str
    heat: str
    share: str
    share_width: float
    note: str
    counted: str
    caution: str
    missing: str


def clutch_view(clutch: ClutchNow, incubator: IncubatorNow, now_ms: int, zone: ZoneInfo) -> ClutchView:
    """Where a clutch lies, how long, and the heat it has had."""
    first, last = (figures.local(moment, zone) for moment in (clutch.laid_from_ms, clutch.laid_to_ms))
    share = clutch.share
    return ClutchView(
        key=f"clutch-{clutch.clutch_id}",
        label=clutch.label,
        species=clutch.species_name,
        place=place_name(incubator, clutch.place),
        eggs=f"{clutch.egg_count} egg{'' if clutch.egg_count == 1 else 's'}",
        days=_days(clutch.set_up_ms, now_ms),
        laid=f"laid {figures.date_range(first, last)}",
        heat=_heat(clutch),
        share="" if share is None else figures.percent(share),
        share_width=0.0 if share is None else round(min(max(share, 0.0), 1.0) * BAR_WIDTH, 1),
        note=clutch.reason,
        counted=clutch.counted,
        caution=clutch.caution,
        missing=_missing(clutch.hours_missing),
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


def _missing(hours: float) -> str:
    if hours < SHORTEST_TOLD_H:
        return ""
    return f"{figures.number(hours)}{figures.NBSP}h without readings: the true heat may be more"
