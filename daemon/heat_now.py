"""The heat of clutches at one moment: the stored hours and what came after them, from laying to now."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass

from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches.register import Clutch
from daemon.development.heat_interval import HeatPiece, HeatRule
from daemon.development.heat_since_laying import Kept, interval_ch, since_laying
from daemon.development.window import Future, HeatSoFar
from daemon.heat_course import HeatCourse
from daemon.heat_ledger import HOUR_MS, heat_over, heat_rule, laying_of
from daemon.storage import heat
from daemon.storage.heat import HeatTotal
from daemon.thermometers import AirChannels

RECENT_H = 72
_FUTURE_U_K = 0.5
"""How well the mean of the last days says what the next weeks will be like, standard uncertainty. This project's
choice; thermostats hold their mean, and a setting that is changed shows within days."""
_NOTHING_MEASURED_U_K = 1.0
"""The same where nearly nothing of them was measured. This project's choice."""
UNKNOWN_ROOM_U_K = 3.0


@dataclass(frozen=True, slots=True)
class HeatNow:
    """Heat of one clutch. Degree-hours from laying as [low, best, high]; exposure in hours since the set-up.

    `rate_now_k` is the heat per hour at the newest reading, None where that is old; `recent_rate_k` the heat per hour
    and `recent_mean_c` the mean temperature of what was measured in the last 72 h, None where nothing was. `future`
    takes those for what comes.
    """

    so_far: HeatSoFar
    low_ch: float
    best_ch: float
    high_ch: float
    is_measured: bool
    hours_missing: float
    hours_above_cap: float
    hours_below_zero: float
    rate_now_k: float | None
    recent_rate_k: float | None
    recent_mean_c: float | None
    future: Future | None


class HeatReader:
    """Answers for one moment of the journal, about every open clutch or about `only` one, which is much cheaper.

    `totals` are those of that moment where somebody has them already (`daemon/heat_totals.py`), `recent` the heat of
    the last 72 h likewise; a closed clutch needs both.
    """

    def __init__(
        self,
        conn: sqlite3.Connection,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        air: AirChannels,
        bridge_ms: int,
        now_ms: int,
        only: int | None = None,
        totals: Mapping[int, HeatTotal] | None = None,
        recent: Mapping[int, HeatPiece] | None = None,
    ) -> None:
        self._site = site
        self._profiles = profiles
        self._now_ms = now_ms
        self._course = HeatCourse(conn, air, bridge_ms)
        self._totals = heat.totals(conn, now_ms, only) if totals is None else totals
        last_days = (now_ms - RECENT_H * HOUR_MS, now_ms)
        self._recent = heat.between(conn, *last_days, only) if recent is None else recent

    def heat_of(self, clutch: Clutch) -> HeatNow | None:
        """Heat of a clutch by now; None where nothing is known of its species."""
        rule = heat_rule(self._profiles.get(clutch.species_id))
        if rule is None:
            return None
        stored, tail = self._since_set_up(clutch, rule)
        whole = stored + tail
        kept = kept_before(self._site, clutch)
        so_far = since_laying(laying_of(clutch), kept, whole, rule, self._now_ms)
        low_ch, best_ch, high_ch = interval_ch(so_far)
        recent = self._recent.get(clutch.clutch_id, HeatPiece()) + tail
        measured_h = recent.covered_ms / HOUR_MS
        rate_k = recent.covered_ch / measured_h if measured_h else None
        mean_c = recent.temperature_ch / measured_h if measured_h else None
        return HeatNow(
            so_far=so_far,
            low_ch=low_ch,
            best_ch=best_ch,
            high_ch=high_ch,
            is_measured=whole.covered_ms > 0,
            hours_missing=whole.missing_ms / HOUR_MS,
            hours_above_cap=whole.above_cap_ms / HOUR_MS,
            hours_below_zero=whole.below_zero_ms / HOUR_MS,
            rate_now_k=self._rate_now_k(clutch, rule),
            recent_rate_k=rate_k,
            recent_mean_c=mean_c,
            future=None if mean_c is None else Future(mean_c, _future_u_k(measured_h), _offset_u_k(so_far), rate_k),
        )

    def _rate_now_k(self, clutch: Clutch, rule: HeatRule) -> float | None:
        place = next((one.place for one in reversed(clutch.placements) if one.from_ms <= self._now_ms), None)
        newest_c = None if place is None else self._course.newest_c(place, self._now_ms)
        return None if newest_c is None else rule.rate_k(newest_c)

    def stored(self, clutch_id: int) -> HeatTotal | None:
        """Give the heat of a clutch in its stored hours, None without any; it changes where one of them does."""
        return self._totals.get(clutch_id)

    def since_set_up(self, clutch: Clutch) -> HeatPiece | None:
        """Heat from the setting up to now, all of it where the clutch lay; None where nothing is known."""
        rule = heat_rule(self._profiles.get(clutch.species_id))
        if rule is None:
            return None
        stored, tail = self._since_set_up(clutch, rule)
        return stored + tail

    def _since_set_up(self, clutch: Clutch, rule: HeatRule) -> tuple[HeatPiece, HeatPiece]:
        """The stored hours, and what came after them."""
        total = self._totals.get(clutch.clutch_id)
        tail_from_ms = clutch.placements[0].from_ms if total is None else total.last_hour_ms + HOUR_MS
        tail = heat_over(self._course, clutch, tail_from_ms, max(self._now_ms, tail_from_ms), rule)
        return HeatPiece() if total is None else total.piece, tail


def kept_before(site: Site, clutch: Clutch) -> Kept | None:
    """How warm the eggs lay before the set-up: as stated for the clutch, else as warm as the room is stated."""
    incubator_id = clutch.placements[0].place.split("/", 1)[0]
    incubator = next((one for one in site.incubators if one.id == incubator_id), None)
    room_u_k = incubator.room_temperature_u_k if incubator else UNKNOWN_ROOM_U_K
    if clutch.before_c is not None:
        return Kept(clutch.before_c, room_u_k if clutch.before_u_k is None else clutch.before_u_k)
    if incubator is None or incubator.room_temperature_c is None:
        return None
    return Kept(incubator.room_temperature_c, room_u_k)


def _offset_u_k(heat: HeatSoFar) -> float:
    """The probe's offset on average over the time in which it counts."""
    return heat.offset_ch / heat.linear_h if heat.linear_h else 0.0


def _future_u_k(measured_h: float) -> float:
    """The less of the last days was measured, the less it says of what comes."""
    return _FUTURE_U_K + (_NOTHING_MEASURED_U_K - _FUTURE_U_K) * (1 - min(measured_h / RECENT_H, 1.0))
