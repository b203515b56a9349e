"""When the stages of a clutch began: days from its laying, shares from its heat, hour by hour. Pure.

A stage by share begins at the end of the stored hour in which the best estimate of the heat reached it. That moment
follows from the stored readings alone, so a replay comes to the same limits as the live run.
"""

from collections.abc import Iterable, Mapping

from config.species import SpeciesProfile, StageLimits
from daemon.clutches.register import Clutch
from daemon.development.basis import development_basis
from daemon.development.heat_since_laying import Kept, heat_before
from daemon.heat_ledger import HOUR_MS, heat_rule, laying_of
from daemon.storage.heat import HeatHour

DAY_MS = 86_400_000
NEVER_MS = 2**62


class StageBegins:
    """Keeps the heat of each hour of the clutches whose profile has stages, and answers when each stage began."""

    def __init__(self, profiles: Mapping[str, SpeciesProfile]) -> None:
        self._staged = {species_id: profile for species_id, profile in profiles.items() if profile.stages}
        self._bases = {species_id: development_basis(profile) for species_id, profile in self._staged.items()}
        self._hours: dict[int, dict[int, float]] = {}

    def is_staged(self, clutch: Clutch) -> bool:
        """True where the profile of the clutch's species has stages."""
        return clutch.species_id in self._staged

    def forget(self, clutch_id: int, from_ms: int) -> None:
        """The hours from a moment on are computed anew."""
        hours = self._hours.get(clutch_id, {})
        self._hours[clutch_id] = {start_ms: heat_ch for start_ms, heat_ch in hours.items() if start_ms < from_ms}

    def take(self, clutch_id: int, hours: Iterable[HeatHour]) -> None:
        """Hours that were computed, each in place of what was known of it."""
        known = self._hours.setdefault(clutch_id, {})
        for hour in hours:
            known[hour.hour_start_ms] = hour.piece.best_ch

    def begins(self, clutch: Clutch, kept: Kept | None) -> tuple[int, ...]:
        """For each stage of the profile the moment (UTC ms) from which it is in force; far ahead where not yet."""
        profile = self._staged.get(clutch.species_id)
        if profile is None:
            return ()
        basis, rule = self._bases[clutch.species_id], heat_rule(profile)
        laying = laying_of(clutch)
        begun: list[int] = []
        waiting: list[tuple[float, int]] = []
        for index, stage in enumerate(profile.stages):
            begun.append(_by_day(stage, laying.middle_ms))
            if stage.from_share is not None and basis is not None:
                waiting.append((stage.from_share * basis.constant_ch, index))
        if rule is None or not waiting:
            return tuple(begun)
        heat_ch = heat_before(laying, kept, rule).best_ch
        known = self._hours.get(clutch.clutch_id, {})
        for start_ms in sorted(known):
            heat_ch += known[start_ms]
            while waiting and heat_ch >= waiting[0][0]:
                begun[waiting.pop(0)[1]] = start_ms + HOUR_MS
            if not waiting:
                break
        return tuple(begun)


def _by_day(stage: StageLimits, laid_ms: float) -> int:
    return NEVER_MS if stage.from_day is None else round(laid_ms + stage.from_day * DAY_MS)
