"""The page of one species: caution first, then every figure with where it comes from. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.species import DevelopmentFit, SexDetermination, Sourced, SpeciesProfile, StatedDuration, UsualDuration
from daemon.development.basis import development_basis
from daemon.development.stages import stage_name
from daemon.overview import Overview
from daemon.species_text import FLAGS, PAUSES, POOLED, usual_days
from dashboards import figures
from dashboards.drawing import Drawing
from dashboards.setup_paths import SPECIES_PATH, species_path
from dashboards.species_drawing import days_drawing, limits_drawing
from dashboards.species_list import UsedBy, used_by

OWN_FOLDER = "profiles"
_VENOMOUS = "Venomous. Only trained handlers go near these eggs and hatchlings, by a written protocol of your own."


@dataclass(frozen=True, slots=True)
class SourcedView:
    """One figure: what it is, its value as text, and its source or `common practice, no source`."""

    name: str
    value: str
    source: str


@dataclass(frozen=True, slots=True)
class SpeciesSection:
    """Figures under one heading, with sentences before them."""

    key: str
    heading: str
    lines: tuple[str, ...]
    figures: tuple[SourcedView, ...]


@dataclass(frozen=True, slots=True)
class SpeciesView:
    """The whole page. `file` and `text` are what an own profile starts from; `text` may be empty."""

    site_name: str
    clock: str
    zone: str
    heading: str
    common_name: str
    caution: str
    lines: tuple[str, ...]
    used_by: tuple[UsedBy, ...]
    limits: Drawing
    has_exposure: bool
    has_durations: bool
    has_usual: bool
    days: Drawing | None
    no_days: str
    sections: tuple[SpeciesSection, ...]
    is_own: bool
    file: str
    text: str
    download: str
    all_path: str


def species_view(profile: SpeciesProfile, text: str | None, overview: Overview, *, is_own: bool) -> SpeciesView:
    """Turn a profile into the page, temperatures in the unit of the site."""
    fahrenheit = overview.fahrenheit
    days = days_drawing(profile, fahrenheit=fahrenheit)
    sections = [
        _air(profile, fahrenheit),
        *_stages(profile, fahrenheit),
        *_exposure(profile, fahrenheit),
        _development(profile, fahrenheit),
        *_sex(profile.sex, fahrenheit),
        *_care(profile),
    ]
    return SpeciesView(
        site_name=overview.site_name,
        clock=figures.moment_text(figures.local(overview.now_ms, ZoneInfo(overview.time_zone))),
        zone=overview.time_zone,
        heading=profile.scientific_name,
        common_name=profile.common_name,
        caution=profile.caution or (_VENOMOUS if profile.venomous else ""),
        lines=tuple(_about(profile, fahrenheit, is_own=is_own)),
        used_by=used_by(profile.id, overview),
        limits=limits_drawing(profile, fahrenheit=fahrenheit),
        has_exposure=bool(profile.exposure),
        has_durations=bool(profile.durations),
        has_usual=profile.usual_duration is not None,
        days=days,
        no_days="" if days is not None else _no_days(profile),
        sections=tuple(sections),
        is_own=is_own,
        file=f"{OWN_FOLDER}/{profile.id}.toml",
        text=text or "",
        download=f"{species_path(profile.id)}.toml",
        all_path=SPECIES_PATH,
    )


def _about(profile: SpeciesProfile, fahrenheit: bool, *, is_own: bool) -> Iterator[str]:
    yield f"{profile.group[:1].upper()}{profile.group[1:]}. Profile {profile.id}, " + (
        "your own, from the folder of this site." if is_own else "built in."
    )
    if profile.population:
        yield f"Population: {profile.population}"
    if profile.pause != "none":
        yield PAUSES[profile.pause]
    if fahrenheit:
        yield "Shown in °F as this site has it; the profile itself, its sources and heat are in °C."


def _care(profile: SpeciesProfile) -> Iterator[SpeciesSection]:
    whens = {"always": "always", "early": "in the first half", "late": "near the end"}
    if profile.care:
        found = (SourcedView(whens[note.when], note.text, note.source) for note in profile.care)
        yield SpeciesSection("care", "What to mind", (), tuple(found))


def _no_days(profile: SpeciesProfile) -> str:
    if profile.pause != "none":
        return PAUSES[profile.pause]
    return "Nothing published, and nothing that the trade agrees on, tells how long it takes."


def _air(profile: SpeciesProfile, fahrenheit: bool) -> SpeciesSection:
    stated, humidity = profile.temperature, profile.humidity
    found = [
        _degrees("not below", stated.low, fahrenheit),
        _degrees("not above", stated.high, fahrenheit),
        _degrees("embryos die above", stated.lethal_high, fahrenheit),
    ]
    if stated.lethal_low is not None:
        found.append(_degrees("a short cold spell kills below", stated.lethal_low, fahrenheit))
    if humidity is not None:
        found += [_percent("humidity not below", humidity.low), _percent("humidity not above", humidity.high)]
    lines = () if stated.lethal_low is not None else ("How cold a short spell may be: nothing published was found.",)
    return SpeciesSection("air", "Air around the eggs", lines, tuple(found))


def _stages(profile: SpeciesProfile, fahrenheit: bool) -> Iterator[SpeciesSection]:
    for number, stage in enumerate(profile.stages, start=1):
        found = []
        if stage.temperature is not None:
            found += [
                _degrees("not below", stage.temperature.low, fahrenheit),
                _degrees("not above", stage.temperature.high, fahrenheit),
            ]
        if stage.humidity is not None:
            found.append(_percent("humidity not below", stage.humidity.low))
            found.append(_percent("humidity not above", stage.humidity.high))
        begins = () if stage.from_share is None else (f"From {stage.from_share:.0%} of development on.",)
        yield SpeciesSection(f"stage-{number}", f"Air {stage_name(stage)}", begins, tuple(found))


def _exposure(profile: SpeciesProfile, fahrenheit: bool) -> Iterator[SpeciesSection]:
    if not profile.exposure:
        return
    found = []
    for limit in profile.exposure:
        way, at_c = ("above", limit.above_c) if limit.above_c is not None else ("below", limit.below_c)
        if at_c is not None:
            name = f"{way} {figures.temperature(at_c, fahrenheit)}"
            value = f"at most {limit.minutes:g} min within {limit.within_h} h"
            found.append(SourcedView(name, value, limit.source))
    yield SpeciesSection("exposure", "What eggs stand for a while", (), tuple(found))


def _development(profile: SpeciesProfile, fahrenheit: bool) -> SpeciesSection:
    found: list[SourcedView] = []
    lines: list[str] = []
    if profile.development is not None:
        found += _line(profile.development, fahrenheit)
        lines.append(f"Worth of the line: {profile.development.flag}: {FLAGS[profile.development.flag]}.")
        lines += [POOLED] if profile.development.pooled else []
    found += [_duration(each, fahrenheit) for each in profile.durations]
    if profile.usual_duration is not None:
        found.append(_usual(profile.usual_duration, fahrenheit))
    basis = development_basis(profile)
    if basis is None:
        lines.append("Nothing that heat could be counted against: there are days, and no share of development.")
    elif profile.development is None:
        lines.append(
            f"Heat is counted with T0 {basis.zero_c:.1f} °C and K {basis.constant_ch:,.0f} °C·h. {basis.reason}"
        )
    usual = usual_days(profile)
    if usual.days and profile.development is not None:
        lines.append(f"By this line: {usual.days} days at {usual.temperatures_c} °C.")
    return SpeciesSection("development", "Development", tuple(lines), tuple(found))


def _line(line: DevelopmentFit, fahrenheit: bool) -> list[SourcedView]:
    ends = (figures.temperature(each, fahrenheit) for each in (line.fit_low_c, line.fit_high_c))
    low, high = ends
    return [
        SourcedView("developmental zero T0", f"{line.developmental_zero_c:g} °C", line.source),
        SourcedView("thermal constant K", str(figures.heat(line.thermal_constant_ch)), "Belongs to T0: one pair."),
        SourcedView("measured between", f"{low.number} and {high}", "The same source."),
        SourcedView(
            "no faster development credited above", str(figures.temperature(line.cap_c, fahrenheit)), line.cap_source
        ),
    ]


def _duration(one: StatedDuration, fahrenheit: bool) -> SourcedView:
    eggs = "" if one.eggs is None else f", {one.eggs} egg{'s' if one.eggs > 1 else ''}"
    scatter = "" if one.days_sd is None else f", standard deviation {one.days_sd:g} d"
    name = f"at a constant {figures.temperature(one.temperature_c, fahrenheit)}"
    return SourcedView(name, f"{one.days:g} days{eggs}{scatter}", one.source)


def _usual(usual: UsualDuration, fahrenheit: bool) -> SourcedView:
    low, high = (figures.temperature(each, fahrenheit) for each in (usual.temperature_low_c, usual.temperature_high_c))
    days = f"{usual.days_low:g}" if usual.days_low == usual.days_high else f"{usual.days_low:g} to {usual.days_high:g}"
    return SourcedView(f"usually, at {low.number} to {high}", f"{days} days", usual.source)


def _sex(sex: SexDetermination | None, fahrenheit: bool) -> Iterator[SpeciesSection]:
    if sex is None:
        return
    period = f"{sex.sensitive_from_share:.0%} to {sex.sensitive_to_share:.0%} of development"
    found = [SourcedView("sensitive period", period, sex.source)]
    lines = ["Sex follows temperature, and no temperature promises a sex."]
    lines += [sex.note] if sex.note else []
    if sex.pivotal_c is not None:
        found.append(_degrees("pivotal temperature", sex.pivotal_c, fahrenheit))
    else:
        lines.append("No pivotal temperature is stated.")
    yield SpeciesSection("sex", "Sex", tuple(lines), tuple(found))


def _degrees(name: str, stated: Sourced, fahrenheit: bool) -> SourcedView:
    return SourcedView(name, str(figures.temperature(stated.value, fahrenheit)), stated.source)


def _percent(name: str, stated: Sourced) -> SourcedView:
    return SourcedView(name, f"{stated.value:g}{figures.NBSP}% RH", stated.source)
