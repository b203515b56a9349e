"""The page that compares places for one clutch, from advice to texts and drawings. Pure."""

from dataclasses import dataclass
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from daemon.placement.advice import Advice, Option
from daemon.placement_text import (
    MOVE_CARE,
    NOT_ALL,
    TRAINED_ONLY,
    Celsius,
    answer_text,
    days_text,
    lethal_text,
    measured_text,
    needs_text,
    neighbours_text,
    outside_text,
    peaks_text,
    sides_text,
    speed_text,
    unknown_text,
)
from dashboards import figures
from dashboards.drawing import Drawing
from dashboards.placing_drawing import place_drawing
from dashboards.register_paths import clutch_path, new_path
from dashboards.standing import Mark, Shape, Tone

PLACEMENT_PATH = "/placement"
DAYS_OFFERED = (1, 3, 7, 14, 30)
_INSIDE_H = 0.05


@dataclass(frozen=True, slots=True)
class OptionView:
    """One place. `moves` are pairs of address and words; `order` counts from 1."""

    order: int
    name: str
    mark: Mark
    hours: str
    sides: str
    lines: tuple[str, ...]
    warnings: tuple[str, ...]
    drawing: Drawing | None
    moves: tuple[tuple[str, str], ...]
    more_moves: tuple[tuple[str, str], ...]
    room: str


@dataclass(frozen=True, slots=True)
class PlacingView:
    """The whole page. `caution` stands first. `hidden` keeps what was asked for where other days are chosen."""

    site_name: str
    clock: str
    zone: str
    heading: str
    answer: str
    needs: str
    notes: tuple[str, ...]
    caution: str
    options: tuple[OptionView, ...]
    days: int
    days_offered: tuple[tuple[int, str], ...]
    path: str
    hidden: tuple[tuple[str, str], ...]
    back: tuple[str, str]

    @property
    def here(self) -> str:
        """The address of this page with what was asked for."""
        return f"{self.path}?{urlencode([*self.hidden, ('days', self.days)])}"


def placing_view(advice: Advice) -> PlacingView:
    """Everything on the page at one moment."""
    zone, needs = ZoneInfo(advice.time_zone), advice.needs
    offered = sorted({*DAYS_OFFERED, advice.days})
    is_new = advice.clutch_id is None
    back = ("/clutches", "all clutches") if advice.clutch_id is None else (clutch_path(advice.clutch_id), advice.label)
    notes = [needs.why_no_speed, NOT_ALL, "" if advice.venomous else MOVE_CARE]
    if advice.behind:
        notes.append("Readings wait to be worked in: some may be missing here for a minute.")
    return PlacingView(
        site_name=advice.site_name,
        clock=figures.moment_text(figures.local(advice.now_ms, zone)),
        zone=advice.time_zone,
        heading=f"Where to put {'a new clutch of ' + needs.species_name if is_new else advice.label}",
        answer=answer_text(advice),
        needs=f"It needs {needs_text(needs, _celsius(advice))}. Measured over the last {days_text(advice.days)}.",
        notes=tuple(each for each in notes if each),
        caution=TRAINED_ONLY if advice.venomous else advice.caution,
        options=tuple(_option(each, advice, number) for number, each in enumerate(advice.options, start=1)),
        days=advice.days,
        days_offered=tuple((days, days_text(days)) for days in offered),
        path=PLACEMENT_PATH if advice.clutch_id is None else clutch_path(advice.clutch_id, "placement"),
        hidden=(("species", needs.species_id),) if is_new else (),
        back=back,
    )


def _celsius(advice: Advice) -> Celsius:
    return lambda value_c: str(figures.temperature(value_c, advice.fahrenheit))


def _option(option: Option, advice: Advice, order: int) -> OptionView:
    celsius, stay, needs = _celsius(advice), option.stay, advice.needs
    warnings, lines = list(option.conflicts), [neighbours_text(option, celsius)]
    if stay is not None:
        warnings = [each for each in (lethal_text(stay), peaks_text(stay, needs, celsius)) if each] + warnings
        lines = [measured_text(stay, celsius), speed_text(needs, stay), unknown_text(stay), *lines]
        lines.append(f"By probe {option.measured_by}, {option.measured_at}.")
    moves = _moves(option, advice)
    shown = 3
    return OptionView(
        order=order,
        name=option.name,
        mark=_mark(option),
        hours=outside_text(option),
        sides="" if stay is None else sides_text(stay),
        lines=tuple(each for each in lines if each),
        warnings=tuple(warnings),
        drawing=None if stay is None else place_drawing(stay, needs.limits, option.name, fahrenheit=advice.fahrenheit),
        moves=moves[:shown],
        more_moves=moves[shown:],
        room="" if option.free or option.is_here else "No free box.",
    )


def _mark(option: Option) -> Mark:
    stay = option.stay
    if stay is None:
        return Mark(Shape.GAP, "unknown", Tone.UNKNOWN)
    if lethal_text(stay):
        return Mark(Shape.CAUTION, "past a lethal limit", Tone.CRITICAL)
    if stay.outside.best < _INSIDE_H and not stay.is_well_known:
        return Mark(Shape.GAP, "inside while measured, much is unknown", Tone.UNKNOWN)
    if stay.outside.best < _INSIDE_H:
        return Mark(Shape.EGG, "inside the range", Tone.WELL)
    shape = Shape.UP if stay.above.best > stay.below.best else Shape.DOWN
    return Mark(shape, "outside at times", Tone.LOW)


def _moves(option: Option, advice: Advice) -> tuple[tuple[str, str], ...]:
    """Give links to the form that moves a clutch, or enters one; none for one that trained handlers alone may move."""
    if advice.venomous:
        return ()
    if advice.clutch_id is None:
        return tuple((new_path(place, advice.needs.species_id), f"Enter it in {name}") for place, name in option.free)
    move = clutch_path(advice.clutch_id, "move")
    return tuple((f"{move}?{urlencode({'place': place})}", f"Move it to {name}") for place, name in option.free)
