"""Pure: what to look for in a box, by species, stage of development and state. Each hint names its source."""

from collections.abc import Iterator
from dataclasses import dataclass
from statistics import fmean

from config.profile_model import CareNote
from config.species import SpeciesProfile
from daemon.clutches.eggs import EggState, Reason
from daemon.clutches.measures import SWELLS_TO
from daemon.development.window import HatchWindow
from daemon.rounds.cautions import PRACTICE
from daemon.rounds.sheet import BoxSheet, ClutchSheet
from daemon.rounds.values import BoxState, Lid, Medium

SHOWN_FIRST = 3
DRIER_BELOW_PCT = 90.0
"""A species whose box may have at most less than this wants it drier than most. Project choice."""
DAMP_PCT = 90.0
VEINS_FROM, VEINS_TO = 0.05, 0.6
MID_TERM_TO = 0.6
EARLY_TO, LATE_FROM = 0.5, 0.85
LATE_WITHIN_DAYS = 10.0
"""Shares of development and days between which a hint fits: project choices around what the trade calls early, mid-term
and near term."""
_SOFT = frozenset({"snake", "agamid", "iguanian", "chameleon", "other lizard", "tuatara"})
"""Groups whose eggs mostly have a soft shell. Those of geckos differ from kind to kind, the others have hard ones."""
_TURNING_SOURCE = (
    "Aubret et al. 2015, Scientific Reports 5:13385 (Natrix maura: turned eggs hatched as well, but 37.5 % of the "
    "young died afterwards, against 4.5 %)"
)
_DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class Hint:
    """One hint for people, and where it comes from. `by_eye`: it asks for no hand in the box."""

    text: str
    source: str = PRACTICE
    by_eye: bool = False


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a hint is chosen by."""

    clutch: ClutchSheet
    sheet: BoxSheet
    profile: SpeciesProfile | None
    medium: Medium | None
    lid: Lid | None
    share: float | None
    is_late: bool
    has_mould: bool

    @property
    def is_soft(self) -> bool:
        return self.clutch.group in _SOFT or self.clutch.group == "gecko"

    @property
    def mean_pct(self) -> float | None:
        humidity = self.sheet.humidity
        return None if humidity is None or not humidity.in_box else humidity.mean

    @property
    def is_dry(self) -> bool:
        humidity = self.sheet.humidity
        too_dry = humidity is not None and humidity.in_box and humidity.hours_below >= 1
        return self.medium is Medium.DRY or self.sheet.dry_days is not None or too_dry

    @property
    def is_damp(self) -> bool:
        return self.medium is Medium.WET or (self.mean_pct is not None and self.mean_pct >= DAMP_PCT)


def hints(sheet: BoxSheet, profile: SpeciesProfile | None, state: BoxState | None) -> tuple[Hint, ...]:
    """Give the hints that fit this box now, those that fit its state first.

    Of a box with a venomous clutch only those that ask for no hand in it; of an empty box none.
    """
    if sheet.clutch is None:
        return ()
    seen = _seen(sheet, sheet.clutch, profile, state)
    found = tuple(dict.fromkeys([*_by_state(seen), *_by_stage(seen), *_always(seen)]))
    return tuple(each for each in found if each.by_eye) if sheet.clutch.venomous else found


def _seen(sheet: BoxSheet, clutch: ClutchSheet, profile: SpeciesProfile | None, state: BoxState | None) -> _Seen:
    now, last = state, sheet.last
    medium = now.medium if now is not None and now.medium is not None else last.medium if last is not None else None
    lid = now.lid if now is not None and now.lid is not None else last.lid if last is not None else None
    share = share_of(clutch, profile)
    window = clutch.window
    near = isinstance(window, HatchWindow) and window.earliest_ms - sheet.until_ms <= LATE_WITHIN_DAYS * _DAY_MS
    said = [each.seen.stated for one in (now, last) if one is not None for each in one.taken]
    mould = any(each.state is EggState.REMOVED and each.reason is Reason.MOULD for each in said)
    is_late = near or (share is not None and share >= LATE_FROM)
    return _Seen(clutch, sheet, profile, medium, lid, share, is_late, mould)


def share_of(clutch: ClutchSheet, profile: SpeciesProfile | None) -> float | None:
    """Give how far a clutch is, by its heat, else roughly by its days; None where neither says anything."""
    if clutch.share is not None:
        return clutch.share
    usual = None if profile is None or profile.pause != "none" else profile.usual_duration
    return None if usual is None else clutch.day / fmean((usual.days_low, usual.days_high))


def _by_state(seen: _Seen) -> Iterator[Hint]:
    if seen.is_dry:
        yield Hint("Water goes on the medium, along the edges or in a corner, never on eggs.")
    if seen.is_dry and seen.is_soft and not seen.is_late:
        yield Hint("Dents this early mean that the box is dry: add water, and look again in two days.")
    if seen.lid is Lid.DRIPPING or (seen.sheet.water_on_lid is not None and seen.sheet.water_on_lid.stays_wet):
        yield Hint("Wipe the lid, so that no water drips on eggs.")
    yield from _too_damp(seen)
    if seen.clutch.counts.watch:
        if seen.is_soft:
            yield Hint("A healthy egg feels springy; a dead one feels firm or slimy.")
        yield Hint("Keepers give an egg up when over half of its shell has gone bad.", by_eye=True)
        yield Hint("A bad egg that sticks to sound ones stays where it is; tearing it off harms the sound ones.")
    if seen.clutch.counts.watch or seen.has_mould:
        yield Hint("Powder only on the spot: the shell has to breathe.")


def _too_damp(seen: _Seen) -> Iterator[Hint]:
    wanted = None if seen.profile is None else seen.profile.humidity
    if wanted is not None and wanted.high.value < DRIER_BELOW_PCT:
        text = f"This species wants it drier than most: {wanted.low.value:g} to {wanted.high.value:g} % RH."
        yield Hint(text, wanted.high.source, by_eye=True)
    if seen.is_damp and seen.is_soft:
        yield Hint("Clear patches in the shell (windows) that come from damp air do no harm.", by_eye=True)


def _by_stage(seen: _Seen) -> Iterator[Hint]:
    share = seen.share
    if seen.is_late:
        if seen.is_soft:
            yield Hint("Dents near the end are normal.", by_eye=True)
        yield Hint("Do not open an egg to help: a young one may rest in the slit egg.", by_eye=True)
    swelling = seen.clutch.swelling
    if swelling is not None:
        what = f"Measured: {swelling.ratio:.2f} times the first {swelling.of}."
        yield Hint(f"{what} Eggs swell towards {SWELLS_TO:g} times their first size by mid-term.")
    elif seen.is_soft and share is not None and share < MID_TERM_TO:
        text = (
            f"Eggs swell towards {SWELLS_TO:g} times their first size by mid-term; weighing one now and then shows it."
        )
        yield Hint(text)
    if share is not None and VEINS_FROM <= share <= VEINS_TO:
        yield Hint("A light held to the shell, with the egg left as it lies: red veins mean that it lives.")
    for note in () if seen.profile is None else seen.profile.care:
        if _fits(note, seen):
            yield Hint(note.text, note.source, by_eye=note.by_eye)


def _fits(note: CareNote, seen: _Seen) -> bool:
    if note.when == "always":
        return True
    if note.when == "late":
        return seen.is_late
    return not seen.is_late and seen.share is not None and seen.share < EARLY_TO


def _always(seen: _Seen) -> Iterator[Hint]:
    yield Hint("Do not turn eggs.", _TURNING_SOURCE if seen.clutch.group == "snake" else PRACTICE)
    if not seen.is_dry:
        yield Hint("Water goes on the medium, along the edges or in a corner, never on eggs.")
