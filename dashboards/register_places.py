"""The boxes of a site as they stand: what lies where, and by which probe heat is counted there. Pure."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from config.model import Zone
from config.places import Places
from config.site import Site
from daemon.clutches.values import Clutch

RIGHT_THERE = "right there"


@dataclass(frozen=True, slots=True)
class Tile:
    """A place to lay eggs. `holds`: labels of the clutches in it; `is_free`: one more may lie there.

    `is_here`: that which is to be moved lies there. `counted`: by what heat is counted, where a box differs.
    """

    place: str
    name: str
    holds: tuple[str, ...]
    is_free: bool
    is_here: bool = False
    counted: str = ""


@dataclass(frozen=True, slots=True)
class Shelf:
    """A shelf with its boxes, in the order of the site file; `itself` is the shelf without a box."""

    name: str
    counted: str
    itself: Tile
    boxes: tuple[Tile, ...]


@dataclass(frozen=True, slots=True)
class Cabinet:
    """An incubator with its shelves; `itself` is the incubator without a shelf."""

    name: str
    counted: str
    itself: Tile
    shelves: tuple[Shelf, ...]


def cabinets(
    site: Site, lying: Iterable[Clutch], counted: Callable[[str], str], mine: int | None = None
) -> tuple[Cabinet, ...]:
    """Give all places by incubator and shelf. `lying`: the open clutches; `mine` is to be moved, so its box is its own.

    `counted` says by what heat is counted in a place.
    """
    here: dict[str, list[str]] = {}
    own = ""
    for each in lying:
        if each.clutch_id == mine:
            own = each.placements[-1].place
        else:
            here.setdefault(each.placements[-1].place, []).append(each.label)

    def tile(place: str, name: str, *, is_box: bool) -> Tile:
        holds = tuple(here.get(place, ()))
        by = counted(place) if is_box else ""
        own_probe = by if by.endswith(RIGHT_THERE) else ""
        return Tile(place, name, holds, not (is_box and holds), place == own, own_probe)

    def shelf(incubator_id: str, zone: Zone) -> Shelf:
        place = f"{incubator_id}/{zone.id}"
        boxes = tuple(tile(f"{place}/{box.id}", box.name or box.id, is_box=True) for box in zone.boxes)
        return Shelf(zone.name, counted(place), tile(place, "on the shelf, without a box", is_box=False), boxes)

    return tuple(
        Cabinet(
            one.name,
            counted(one.id),
            tile(one.id, "in the incubator, without a shelf", is_box=False),
            tuple(shelf(one.id, zone) for zone in one.zones),
        )
        for one in site.incubators
    )


def counter(places: Places, air_at: Mapping[str, str]) -> Callable[[str], str]:
    """Give what says by what heat is counted in a place. `air_at`: the channel of the air in each place with one."""

    def counted(place: str) -> str:
        for part in places.chain(place):
            if part in air_at:
                where = RIGHT_THERE if part == place else f"at {places.name(part)}"
                return f"heat is counted by probe {air_at[part].partition('/')[0]}, {where}"
        return "no probe measures the air there, so no heat is counted"

    return counted
