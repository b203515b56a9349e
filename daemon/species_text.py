"""Profiles and lines in words, and a line as the table of a profile. Pure: values in, text out."""

import json
from collections.abc import Sequence
from typing import NamedTuple

from config.species import DevelopmentFit, ExposureLimit, SexDetermination, Sourced, SpeciesProfile, StageLimits
from daemon.development.basis import development_basis
from daemon.development.fits import Fit, line_days
from daemon.development.stages import stage_name

WARM_C = 30.5
"""Above this a line over constant temperatures grows too flat in many species; this project's choice, no source."""

FLAGS = {
    "good": "three or more temperatures over 4 °C or more, on a line",
    "fair": "a line with some scatter, or over a narrow range",
    "weak": "the durations scatter widely about the line (R2 below 0.9)",
    "two-point": "two temperatures lie on any line: whether it holds, and its error, are unknown",
    "do not use": "a developmental zero below 5 °C or above 24 °C is not one; the durations do not support a line",
}
POOLED = "Several sources, and so perhaps several populations, are in this line: a clutch may follow either."
PAUSES = {
    "diapause": "Development pauses (diapause): heat tells no date of hatching.",
    "arrest": "Development rests after laying (arrest): heat tells no date of hatching.",
}
_CAP = (
    "this project's choice, no published cap: the warmest temperature of the series, beyond which nothing was measured"
)
_PAIR = "T0 and K belong together: never take one without the other."


def profile_lines(profile: SpeciesProfile) -> list[str]:
    """A profile for people: cautions, pause, then numbers, each with its source on the line below it."""
    lines = [f"Caution: {profile.caution}", ""] if profile.caution else []
    lines += [f"{profile.scientific_name}: {profile.common_name} ({profile.group})"]
    lines += [f"Population: {profile.population}"] if profile.population else []
    lines += [PAUSES[profile.pause]] if profile.pause != "none" else []
    temperature, humidity = profile.temperature, profile.humidity
    lines += ["", "Air around the eggs"]
    lines += _sourced("not below", temperature.low, "°C") + _sourced("not above", temperature.high, "°C")
    lines += _sourced("embryos die above", temperature.lethal_high, "°C")
    if temperature.lethal_low is None:
        lines.append("  a short cold spell kills below: nothing published was found")
    else:
        lines += _sourced("a short cold spell kills below", temperature.lethal_low, "°C")
    if humidity is not None:
        lines += _sourced("humidity in the box not below", humidity.low, "%")
        lines += _sourced("humidity in the box not above", humidity.high, "%")
    lines += [line for stage in profile.stages for line in _stage_lines(stage)]
    lines += ["", "Exposure"] if profile.exposure else []
    lines += [line for limit in profile.exposure for line in _exposure_lines(limit)]
    lines += _development_lines(profile)
    lines += [] if profile.sex is None else _sex_lines(profile.sex)
    return lines + _care_lines(profile)


class UsualDays(NamedTuple):
    """How long it takes and where, for a list: days, temperatures, and what line they come from."""

    days: str
    temperatures_c: str
    line: str


def usual_days(profile: SpeciesProfile) -> UsualDays:
    """Give the days by the line over its own range, as usually seen where there is no line, or nothing."""
    line, usual = profile.development, profile.usual_duration
    if line is not None and profile.pause == "none":
        flag = f"{line.flag}, pooled" if line.pooled else line.flag
        fast, slow = (_days(line, at_c) for at_c in (line.fit_high_c, line.fit_low_c))
        return UsualDays(_span(round(fast), round(slow)), _span(line.fit_low_c, line.fit_high_c), flag)
    if profile.durations and profile.pause == "none":
        stated = sorted(profile.durations, key=lambda one: one.days)
        coldest, warmest = min(one.temperature_c for one in stated), max(one.temperature_c for one in stated)
        return UsualDays(_span(stated[0].days, stated[-1].days), _span(coldest, warmest), "durations")
    if usual is not None:
        at_c = _span(usual.temperature_low_c, usual.temperature_high_c)
        return UsualDays(_span(usual.days_low, usual.days_high), at_c, "none")
    return UsualDays("", "", "none")


def fit_lines(fit: Fit, left_out_c: Sequence[float]) -> list[str]:
    """A line through durations for people."""
    zero_u = _plus_minus(fit.developmental_zero_u_k, ".2f", "K")
    constant_u = _plus_minus(fit.thermal_constant_u_ch, ",.0f", "°C·h")
    lines = [
        f"Developmental zero T0  {fit.developmental_zero_c:.2f} °C{zero_u}",
        f"Thermal constant K     {fit.thermal_constant_ch:,.0f} °C·h{constant_u}",
        f"Correlation of both    {fit.correlation:.4f}. {_PAIR}",
    ]
    if fit.residual_sd_pct is not None and fit.r_squared is not None:
        lines.append(f"Scatter about the line {fit.residual_sd_pct:.1f} % (R2 {fit.r_squared:.3f})")
    lines.append(f"Mean error of days     {fit.mean_absolute_error_pct:.1f} %")
    if fit.within_treatment_cv_pct is not None:
        lines.append(f"Scatter between eggs   {fit.within_treatment_cv_pct:.1f} %")
    lines.append(f"Worth                  {fit.flag}: {FLAGS[fit.flag]}")
    if fit.pooled:
        lines.append(f"Pooled                 {POOLED}")
    if left_out_c:
        lines.append(f"Left out               {_listed(left_out_c)} °C")
    if fit.points[-1].temperature_c > WARM_C:
        lines.append(
            f"Warm temperatures make the line too flat in many species. Compare with --upto {WARM_C:g} and take that "
            "one for eggs kept below it."
        )
    return lines


def fit_as_dict(fit: Fit) -> dict[str, object]:
    """A line for programs; uncertainties are standard uncertainties (k = 1)."""
    return {
        "developmental_zero_c": fit.developmental_zero_c,
        "developmental_zero_u_k": fit.developmental_zero_u_k,
        "thermal_constant_ch": fit.thermal_constant_ch,
        "thermal_constant_u_ch": fit.thermal_constant_u_ch,
        "covariance_ch_k": fit.covariance_ch_k,
        "correlation": fit.correlation,
        "residual_sd_pct": fit.residual_sd_pct,
        "r_squared": fit.r_squared,
        "mean_absolute_error_pct": fit.mean_absolute_error_pct,
        "within_treatment_cv_pct": fit.within_treatment_cv_pct,
        "flag": fit.flag,
        "flag_meaning": FLAGS[fit.flag],
        "pooled": fit.pooled,
        "points": [
            {
                "temperature_c": point.temperature_c,
                "eggs": point.eggs,
                "observed_days": point.observed_days,
                "predicted_days": point.predicted_days,
            }
            for point in fit.points
        ],
    }


def toml_block(fit: Fit, sources: Sequence[str], left_out_c: Sequence[float], *, each_row: bool) -> str | None:
    """The `[development]` table of a profile; None for a line that is not to be used.

    Where nobody is named who measured the durations, `source` stays empty: a profile is refused until it is filled in.
    """
    if fit.flag == "do not use":
        return None
    points = "one point for each duration" if each_row else "one mean rate for each constant temperature"
    left_out = f"; {_listed(left_out_c)} °C left out" if left_out_c else ""
    how = f"Ordinary least squares of 1/duration on temperature, {points}{left_out}"
    warmest = f"{fit.points[-1].temperature_c:g}"
    lines = [
        "[development]",
        f"developmental_zero_c = {fit.developmental_zero_c:.2f}",
        f"thermal_constant_ch = {fit.thermal_constant_ch:.0f}",
        f"fit_low_c = {fit.points[0].temperature_c:g}",
        f"fit_high_c = {warmest}",
        f"cap_c = {warmest}",
        f'flag = "{fit.flag}"',
        f"pooled = {'true' if fit.pooled else 'false'}",
        f"source = {_toml_text('. '.join(['; '.join(sources), how]))}"
        if sources
        else f'source = ""  # who measured the durations, where and when; add: {how}',
        f"cap_source = {_toml_text(_CAP)}",
    ]
    return "\n".join(lines) + "\n"


def _development_lines(profile: SpeciesProfile) -> list[str]:
    lines = ["", "Development"]
    line, usual = profile.development, profile.usual_duration
    if profile.durations:
        lines += _durations_lines(profile)
    elif line is None:
        lines += ["  no line through published durations", *_basis_lines(profile)]
    else:
        lines += [
            f"  developmental zero T0 {line.developmental_zero_c:g} °C",
            f"  thermal constant K {line.thermal_constant_ch:,.0f} °C·h",
            f"  both over {line.fit_low_c:g} to {line.fit_high_c:g} °C. {_PAIR}",
            f"  worth: {line.flag}: {FLAGS[line.flag]}",
            *([f"  {POOLED}"] if line.pooled else []),
            f"    {line.source}",
            f"  no faster development is credited above {line.cap_c:g} °C",
            f"    {line.cap_source}",
        ]
    if line is not None and profile.pause == "none":
        ends = (f"{_days(line, at_c):.0f} d at {at_c:g} °C" for at_c in (line.fit_low_c, line.fit_high_c))
        lines.append(f"  by this line: {', '.join(ends)}")
    if usual is not None:
        at_c = _span(usual.temperature_low_c, usual.temperature_high_c)
        lines += [f"  usually {_span(usual.days_low, usual.days_high)} days at {at_c} °C", f"    {usual.source}"]
    return lines


def _durations_lines(profile: SpeciesProfile) -> list[str]:
    lines = ["  durations at constant temperatures, through which a line is laid"]
    for one in profile.durations:
        eggs = "" if one.eggs is None else f", {one.eggs} egg{'s' if one.eggs > 1 else ''}"
        scatter = "" if one.days_sd is None else f", standard deviation {one.days_sd:g} d"
        lines += [f"  {one.days:g} d at {one.temperature_c:g} °C{eggs}{scatter}", f"    {one.source}"]
    return lines + _basis_lines(profile)


def _basis_lines(profile: SpeciesProfile) -> list[str]:
    """The pair that heat is counted against where a profile states none."""
    basis = development_basis(profile)
    if basis is None:
        return ["  nothing that heat could be counted against: there are days, and no share of development"]
    zero_u, constant_u = _plus_minus(basis.zero_u_k, ".1f", "K"), _plus_minus(basis.constant_u_ch, ",.0f", "°C·h")
    return [
        f"  heat is counted with T0 {basis.zero_c:.1f} °C{zero_u}",
        f"  and K {basis.constant_ch:,.0f} °C·h{constant_u}. {_PAIR}",
        f"    {basis.reason}",
    ]


def _stage_lines(stage: StageLimits) -> list[str]:
    begin = "" if stage.from_share is None else f" (from {stage.from_share:g} of development)"
    lines = ["", f"Air {stage_name(stage)}{begin}"]
    if stage.temperature is not None:
        lines += _sourced("not below", stage.temperature.low, "°C") + _sourced(
            "not above", stage.temperature.high, "°C"
        )
    if stage.humidity is not None:
        lines += _sourced("humidity in the box not below", stage.humidity.low, "%")
        lines += _sourced("humidity in the box not above", stage.humidity.high, "%")
    return lines


def _exposure_lines(limit: ExposureLimit) -> list[str]:
    figure = f"above {limit.above_c:g}" if limit.above_c is not None else f"below {limit.below_c:g}"
    return [f"  not more than {limit.minutes:g} minutes {figure} °C within {limit.within_h} h", f"    {limit.source}"]


def _care_lines(profile: SpeciesProfile) -> list[str]:
    lines = ["", "What to mind"] if profile.care else []
    return lines + [line for note in profile.care for line in (f"  {note.text}", f"    {note.source}")]


def _sex_lines(sex: SexDetermination) -> list[str]:
    lines = ["", "Sex follows temperature, and no temperature promises a sex"]
    lines += [f"  {sex.note}"] if sex.note else []
    lines += [f"  sensitive period: {sex.sensitive_from_share:g} to {sex.sensitive_to_share:g} of development"]
    lines += [f"    {sex.source}"]
    if sex.pivotal_c is None:
        return [*lines, "  pivotal temperature: none is stated"]
    return lines + _sourced("pivotal temperature", sex.pivotal_c, "°C")


def _listed(temperatures_c: Sequence[float]) -> str:
    return ", ".join(f"{one:g}" for one in temperatures_c)


def _span(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"{low:g}-{high:g}"


def _sourced(what: str, number: Sourced, unit: str) -> list[str]:
    return [f"  {what} {number.value:g} {unit}", f"    {number.source}"]


def _days(line: DevelopmentFit, at_c: float) -> float:
    return line_days(line.developmental_zero_c, line.thermal_constant_ch, at_c)


def _plus_minus(uncertainty: float | None, form: str, unit: str) -> str:
    return " (error unknown)" if uncertainty is None else f" ± {uncertainty:{form}} {unit} (standard error)"


def _toml_text(text: str) -> str:
    """A TOML basic string; JSON escapes the same way, and what it leaves and TOML forbids is not printable."""
    return json.dumps("".join(one if one.isprintable() else " " for one in text), ensure_ascii=False)
