"""The page of one box, which its label leads to: what lies in it, what was found last, how it is now. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.clutches.values import Clutch
from daemon.overview import ClutchNow, IncubatorNow, Overview
from daemon.rounds.walk import BoxView
from daemon.rounds.words import state_lines
from dashboards import figures
from dashboards.clutch_eggs import eggs_text
from dashboards.clutches import clutch_view
from dashboards.readings import ReadingView, reading_view
from dashboards.register_paths import clutch_path, new_path
from dashboards.rounds_box import PhotoView, photo_view
from dashboards.rounds_paths import ROUNDS_PATH
from dashboards.rounds_paths import box_path as round_box_path

_NEVER = "Nobody has written down yet what was found here."


@dataclass(frozen=True, slots=True)
class Step:
    """A way on: where to, and in which words. The first one is what most come for."""

    key: str
    path: str
    words: str


@dataclass(frozen=True, slots=True)
class BoxPageView:
    """The whole page. `lines` say what lies in it; `found` what was found last, at `found_when`, with `photos`."""

    name: str
    whole_name: str
    label: str
    lines: tuple[str, ...]
    note: str
    venomous: bool
    protected: str
    steps: tuple[Step, ...]
    readings: tuple[tuple[str, ReadingView], ...]
    found_when: str
    found: tuple[str, ...]
    photos: tuple[PhotoView, ...]
    needs: tuple[str, ...]


def box_page_view(box: BoxView, clutch: Clutch | None, overview: Overview, *, may_change: bool) -> BoxPageView:
    """Put a box into words. `clutch` is the one that lies in it; None for an empty box."""
    zone, place = ZoneInfo(overview.time_zone), box.stop.place
    incubator = next((each for each in overview.incubators if each.incubator_id == place.partition("/")[0]), None)
    is_seen = box.state is not None and box.state.is_seen
    last = box.state if is_seen else box.sheet.last
    # Before anybody has looked in this round, what was found last is of the one before.
    photos = box.photos if is_seen else (*box.photos, *box.last_photos)
    return BoxPageView(
        name=box.stop.name,
        whole_name=box.stop.whole_name,
        label=box.stop.label,
        lines=tuple(_lines(box, clutch, incubator, overview, zone)),
        note="" if clutch is None else clutch.note,
        venomous=box.through_lid_only,
        protected="" if clutch is None else clutch.protected,
        steps=tuple(_steps(box, clutch, may_change=may_change)),
        readings=() if incubator is None else tuple(_readings(place, incubator, overview, zone)),
        found_when="" if last is None else figures.moment_text(figures.local(last.at_ms, zone)),
        found=(_NEVER,) if last is None else tuple(state_lines(last)),
        photos=tuple(photo_view(each, zone) for each in photos),
        needs=tuple(f"{each[:1].upper()}{each[1:]}" for each in box.need.words),
    )


def _lines(
    box: BoxView, clutch: Clutch | None, incubator: IncubatorNow | None, overview: Overview, zone: ZoneInfo
) -> Iterator[str]:
    if clutch is None:
        yield "Nothing lies in it."
        return
    yield box.stop.species_name
    if box.sheet.clutch is not None:
        yield f"Eggs: {eggs_text(box.sheet.clutch.counts)}"
    now = _now_of(clutch, incubator)
    if now is None or incubator is None:
        return
    view = clutch_view(now, incubator, overview.now_ms, zone, fahrenheit=overview.fahrenheit)
    yield f"{view.days}, {view.laid}" + (f", {view.share} of development" if view.share else "")
    yield f"{view.window.heading}. {view.window.between}" if view.window else view.note


def _now_of(clutch: Clutch, incubator: IncubatorNow | None) -> ClutchNow | None:
    if incubator is None:
        return None
    return next((each for each in incubator.clutches if each.clutch_id == clutch.clutch_id), None)


def _steps(box: BoxView, clutch: Clutch | None, *, may_change: bool) -> Iterator[Step]:
    going_on = box.round
    if going_on is not None and going_on.round.ended_ms is None:
        path = round_box_path([going_on.number], box.stop.key)
        yield Step("to-round", path, f"To this box in the round of {going_on.round.who}")
    if clutch is None:
        if may_change:
            yield Step("enter-here", new_path(box.stop.place), "Enter a clutch here")
    else:
        number = clutch.clutch_id
        yield Step("to-clutch", clutch_path(number), f"All of {clutch.label}")
        yield Step("to-the-eggs", clutch_path(number, "eggs"), "Its eggs")
        if may_change and not box.through_lid_only:
            yield Step("to-move", clutch_path(number, "move"), "Move it")
        if may_change:
            yield Step("to-note", clutch_path(number, "notes"), "Write a note")
    if going_on is None and may_change:
        yield Step("to-start", ROUNDS_PATH, "Start a round")


def _readings(
    place: str, incubator: IncubatorNow, overview: Overview, zone: ZoneInfo
) -> Iterator[tuple[str, ReadingView]]:
    """Those in the box itself first, then around it, each with the name of where it is."""
    parts = place.split("/")
    for depth in range(len(parts), 0, -1):
        part = "/".join(parts[:depth])
        for channel in incubator.channels:
            if channel.place == part:
                name = incubator.name if depth == 1 else incubator.place_names.get(part, part)
                yield name, reading_view(channel, overview, zone)


def first_cautions(box: BoxView) -> Sequence[str]:
    """Give the cautions that stand before everything else, apart from the flag of a venomous clutch."""
    return [each.text for each in box.cautions if each.first][1 if box.through_lid_only else 0 :]
