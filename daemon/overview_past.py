"""Pure: what the record of a clutch tells beyond its heat: of sex, and of the exposure that its species stands."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from config.species import ExposureLimit, SpeciesProfile
from daemon.development.basis import development_basis
from daemon.development.cte import sensitive_part, sex_sentence
from daemon.development.exposure import Verdict, judge_course
from daemon.development.heat_since_laying import Kept, Laying, heat_before
from daemon.heat_ledger import heat_rule
from daemon.storage.heat import HeatHour

HOUR_MS = 3_600_000


class Past(NamedTuple):
    """Sentences of one clutch; empty where there is nothing to say."""

    sex: str = ""
    exposure_limits: tuple[str, ...] = ()


def says_of_sex(profile: SpeciesProfile) -> bool:
    """Tell whether temperature decides sex in a species, and the share of its development is known."""
    return profile.sex is not None and profile.pause == "none" and development_basis(profile) is not None


def sex_so_far(profile: SpeciesProfile, laying: Laying, kept: Kept | None, hours: Iterable[HeatHour]) -> str:
    """What the temperatures so far tell of sex, with its sources; empty where `says_of_sex` is false.

    Heat from before the set-up was not measured, and counts as that; so does that of an hour mostly without readings.
    """
    sex, basis, rule = profile.sex, development_basis(profile), heat_rule(profile)
    if sex is None or basis is None or rule is None or not says_of_sex(profile):
        return ""
    rows: list[tuple[float | None, float]] = [(None, heat_before(laying, kept, rule).best_ch)]
    rows += [(_mean_c(hour), hour.piece.best_ch) for hour in hours]
    told = [sex_sentence(sensitive_part(rows, basis.constant_ch, sex), sex)]
    if sex.note:
        told.append(f"Of the species is known: {sex.note}.")
    return " ".join([*told, f"Source: {sex.source}."])


def _mean_c(hour: HeatHour) -> float | None:
    """The mean temperature of an hour, which for a first or last one may be a part of it; None where hardly measured.

    Over a gap the heat of an hour is reckoned, and its temperature with it.
    """
    piece = hour.piece
    if piece.covered_ms <= piece.missing_ms:
        return None
    return piece.temperature_ch / (piece.covered_ms / HOUR_MS)


def exposure_told(
    limits: Sequence[ExposureLimit], course: Sequence[tuple[int, float | None]], longest_bridge_ms: int, now_ms: int
) -> tuple[str, ...]:
    """Give a sentence for each limit that is passed or may be.

    `course` is (measured_at_ms, temperature_c) where the clutch lay, in order of time, None for what is not known.
    """
    return tuple(
        f"Exposure limit {judged.verdict.value}: {judged.reason}."
        for _, _, judged in judge_course(limits, course, longest_bridge_ms, now_ms)
        if judged.verdict is not Verdict.WITHIN
    )
