"""What the pages of rounds stand before: the desk, the eggs of a clutch, and what the site says of itself."""

import uuid
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Self
from zoneinfo import ZoneInfo

from config.places import Places
from config.site import Site
from daemon.clutches.desk import RegisterDesk
from daemon.clutches.eggs import Egg
from daemon.round_desk import RoundDesk
from daemon.rounds.entries import MOST_WATER_ML
from daemon.rounds.stops import place_of
from daemon.rounds.values import Photo
from daemon.rounds.walk import BoxView, Walk
from dashboards import rounds_box
from dashboards.alarm_answer import asked
from dashboards.rendering import render
from dashboards.rounds_box import BoxPage, Typed, box_page, mark_of_content, shown_entries
from dashboards.rounds_paths import numbers_in, walk_path
from dashboards.rounds_photo import PhotoPageView, photo_page_view
from dashboards.rounds_walk import Order, TimeOver, WalkPage, next_path, times_over, walk_page

OPTIONS = {
    "medium": rounds_box.MEDIUM,
    "lid": rounds_box.LID,
    "where": rounds_box.WHERE,
    "reasons": rounds_box.REASONS,
    "states": rounds_box.STATES,
    "states_by_eye": rounds_box.STATES_BY_EYE,
    "water": rounds_box.WATER_STEPS_ML,
    "most_water_ml": f"{MOST_WATER_ML:g}",
    "skips": rounds_box.SKIPS,
    "treated": rounds_box.TREATED,
}


@dataclass(frozen=True, slots=True)
class RoundPages:
    """Where these pages get what they show. Its methods raise NothingToShowError where the journal cannot be read."""

    desk: RoundDesk
    eggs: Callable[[int], tuple[Egg, ...]]
    site_name: str
    zone: ZoneInfo
    fahrenheit: bool
    now_ms: Callable[[], int]
    is_demo: bool = False
    place_name: Callable[[str], str] = str
    label: Callable[[int], str] = lambda _number: ""

    @classmethod
    def of(
        cls, desk: RoundDesk, register: RegisterDesk, site: Site, now_ms: Callable[[], int], *, is_demo: bool = False
    ) -> Self:
        """Take them from the desks of a site. In a demo the clock is not that of the phones."""

        def eggs(clutch_id: int) -> tuple[Egg, ...]:
            found = register.file(clutch_id)
            return () if found is None else found.eggs

        def label(clutch_id: int) -> str:
            found = register.file(clutch_id)
            return "" if found is None else found.clutch.label

        def place_name(place: str) -> str:
            return places.name(place) if places.exists(place) else place

        places, zone = Places(site), ZoneInfo(site.time_zone)
        return cls(desk, eggs, site.name, zone, site.temperature_unit == "F", now_ms, is_demo, place_name, label)

    def photo(self, photo: Photo) -> PhotoPageView:
        """Put a photo into words."""
        name = self.place_name(place_of(photo.box)[0])
        label = "" if photo.clutch_id is None else asked(lambda: self.label(photo.clutch_id or 0))
        return photo_page_view(photo, self.site_name, name, label, self.now_ms(), self.zone)

    def walk(self, text: str) -> Walk | None:
        """Give the walk of an address; None where one of its rounds is not there."""
        numbers = numbers_in(text)
        if not numbers:
            return None
        found = asked(lambda: self.desk.walk(numbers))
        return found if len(found.rounds) == len(numbers) else None

    def names(self) -> dict[str, str]:
        """Give the names of the incubators by their ids."""
        return {each.incubator: each.name for each in asked(self.desk.incubators)}

    def walk_view(self, walk: Walk, order: Order) -> WalkPage:
        """Put a walk into rows."""
        return walk_page(walk, self.names(), order, self.now_ms(), self.zone)

    def over(self, walk: Walk) -> tuple[TimeOver, ...]:
        """Give what is said once the time of its rounds is over."""
        return times_over(walk, self.names(), self.now_ms(), self.zone)

    def box(self, walk: Walk, key: str) -> tuple[BoxView, BoxPage] | None:
        """Give a box of a walk; None where it is none of its boxes."""
        number = next((each.round_number for each in walk.boxes if each.stop.key == key), None)
        found = None if number is None else asked(lambda: self.desk.sheet(key, number))
        return None if found is None else (found, self._page(walk, found))

    def _page(self, walk: Walk, found: BoxView) -> BoxPage:
        numbers = [each.number for each in walk.rounds]
        eggs = () if found.stop.clutch_id is None else asked(lambda: self.eggs(found.stop.clutch_id or 0))
        return box_page(found, numbers, eggs, self.zone, fahrenheit=self.fahrenheit)

    def box_values(self, walk: Walk, page: BoxPage, order: Order, typed: Typed, entry_id: str) -> dict[str, Any]:
        """Give what the template of a box needs."""
        wanted = "" if order is Order.STAND else f"?order={order}"
        return {
            "page": page,
            "typed": typed,
            "options": OPTIONS,
            "shown": shown_entries(page),
            "entry_id": entry_id,
            "wanted": wanted,
            "back_path": walk_path([each.number for each in walk.rounds]) + wanted,
            "following": next_path(walk, page.key, order),
        }

    def whole(self, walk: Walk, have: Sequence[str]) -> dict[str, Any]:
        """Give the whole walk for a browser to keep: each box as HTML and as entries, without those that it has."""
        boxes, views = [], asked(lambda: self.desk.sheets(walk))
        for each in walk.boxes:
            page = self._page(walk, views[each.stop.key])
            values = self.box_values(walk, page, Order.STAND, Typed(), "")
            # What comes next the browser finds itself; by it every entry would change the boxes before it too.
            html = render("round_box.html", **{**values, "following": values["back_path"]})
            mark = mark_of_content(html, page.entries)
            kept = {} if mark in have else {"html": html, "entries": page.entries}
            boxes.append({"key": each.stop.key, "round": each.round_number, "mark": mark, **kept})
        view = self.walk_view(walk, Order.STAND)
        listed = render("round_list.html", walk=view)
        over = [asdict(each) for each in self.over(walk)]
        names = self.names()
        where = [names.get(each.round.incubator, each.round.incubator) for each in walk.rounds]
        numbers = ",".join(str(one) for one in view.numbers)
        about = {"walk": numbers, "where": where, "is_ended": view.is_ended}
        return {**about, "list": listed, "boxes": boxes, "over": over}


def new_id() -> str:
    """Make an id for what a plain form sends, so that sent twice it is stored once."""
    return str(uuid.uuid4())
