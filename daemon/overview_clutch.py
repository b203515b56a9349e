"""Pure: one clutch of the overview, from the register, its profile and its heat."""

from config.species import SpeciesProfile
from daemon.clutches.register import Clutch
from daemon.development.basis import Basis, development_basis, tried_c
from daemon.development.stages import Share, StageInForce, stage_in_force
from daemon.development.window import HatchWindow, HeatSoFar, NoWindow, hatch_window
from daemon.heat_ledger import laying_of
from daemon.heat_now import HeatNow
from daemon.occupancy import FOR_EVER_MS
from daemon.overview import ClutchNow
from daemon.overview_past import Past

DAY_MS = 86_400_000
_NO_HEAT = HeatSoFar(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
_NO_PAST = Past()


def clutch_now(
    clutch: Clutch, profile: SpeciesProfile | None, heat: HeatNow | None, now_ms: int, past: Past = _NO_PAST
) -> ClutchNow:
    """Where a clutch lies at `now_ms`, its heat so far and its window; it must have been set up by then."""
    basis = development_basis(profile) if profile else None
    counted = heat if heat is not None and heat.is_measured else None
    has_share = basis is not None and profile is not None and profile.pause == "none"
    return ClutchNow(
        clutch_id=clutch.clutch_id,
        label=clutch.label,
        species_id=clutch.species_id,
        species_name=profile.common_name if profile else clutch.species_id,
        place=next(lain.place for lain in reversed(clutch.placements) if lain.from_ms <= now_ms),
        egg_count=clutch.egg_count,
        laid_from_ms=clutch.laid_from_ms,
        laid_to_ms=clutch.laid_to_ms,
        set_up_ms=clutch.placements[0].from_ms,
        degree_hours_low_ch=counted.low_ch if counted else None,
        degree_hours_ch=counted.best_ch if counted else None,
        degree_hours_high_ch=counted.high_ch if counted else None,
        thermal_constant_ch=basis.constant_ch if basis else None,
        share=counted.best_ch / basis.constant_ch if counted and basis and has_share else None,
        rate_now_k=counted.rate_now_k if counted else None,
        recent_rate_k=counted.recent_rate_k if counted else None,
        recent_mean_c=counted.recent_mean_c if counted else None,
        hours_missing=heat.hours_missing if heat else 0.0,
        hours_above_cap=heat.hours_above_cap if heat else 0.0,
        hours_below_zero=heat.hours_below_zero if heat else 0.0,
        window=_window(profile, basis, counted, now_ms),
        reason=_heat_reason(profile, basis, is_counted=counted is not None),
        counted=_counted(profile, basis) if profile and basis else "",
        caution=(profile.caution or "") if profile else "",
        stage=_stage_told(clutch, profile, heat, now_ms) if profile else "",
        sex=past.sex,
        exposure_limits=past.exposure_limits,
    )


def stage_begins_now(clutch: Clutch, profile: SpeciesProfile, heat: HeatNow | None, now_ms: int) -> tuple[int, ...]:
    """For each stage of the profile whether it is in force now: from the beginning of time on, or never."""
    index = _stage(clutch, profile, heat, now_ms).index
    return tuple(-FOR_EVER_MS if index is not None and n <= index else FOR_EVER_MS for n in range(len(profile.stages)))


def _stage(clutch: Clutch, profile: SpeciesProfile, heat: HeatNow | None, now_ms: int) -> StageInForce:
    basis = development_basis(profile)
    share = None
    if heat is not None and heat.is_measured and basis is not None:
        share = Share(*(each / basis.constant_ch for each in (heat.low_ch, heat.best_ch, heat.high_ch)))
    return stage_in_force(profile, share, (now_ms - laying_of(clutch).middle_ms) / DAY_MS)


def _stage_told(clutch: Clutch, profile: SpeciesProfile, heat: HeatNow | None, now_ms: int) -> str:
    """Say that limits of a stage hold, and why; empty before the first stage."""
    found = _stage(clutch, profile, heat, now_ms)
    return "" if found.index is None else f"Other limits hold now, {found.reason}."


def _window(
    profile: SpeciesProfile | None, basis: Basis | None, heat: HeatNow | None, now_ms: int
) -> HatchWindow | NoWindow:
    if profile is None:
        return NoWindow("No date: there is no profile for this species.")
    if heat is None:
        if basis is None or profile.pause != "none":
            return hatch_window(profile, basis, _NO_HEAT, None, now_ms)
        return NoWindow("No date: no probe has measured this clutch yet.")
    return hatch_window(profile, basis, heat.so_far, heat.future, now_ms)


def _heat_reason(profile: SpeciesProfile | None, basis: Basis | None, *, is_counted: bool) -> str:
    """Why a clutch has no heat or no share; empty where it has both."""
    if profile is None:
        return "There is no profile for this species: no limits are watched for it and no heat is counted."
    pauses = profile.pause != "none"
    if basis is None:
        also = f" Its development pauses ({profile.pause})." if pauses else ""
        return f"Nothing is known of how fast this species develops: days only.{also}"
    if not is_counted:
        return "No reading counts for this clutch yet."
    if pauses:
        return f"Development of this species pauses ({profile.pause}): heat, but no share and no date."
    return ""


def _counted(profile: SpeciesProfile, basis: Basis) -> str:
    """How heat is counted, and what the figures rest on."""
    tried = tried_c(profile)
    tried_at = ""
    if tried is not None:
        tried_at = (
            f" Known at {tried[0]:g} °C." if tried[0] == tried[1] else f" Known from {tried[0]:g} to {tried[1]:g} °C."
        )
    return f"Heat counts above {basis.zero_c:.1f} °C, and above {basis.cap_c:g} °C no faster. {basis.reason}{tried_at}"
