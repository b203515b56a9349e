"""Places of a site: an incubator (`north`), a zone of it (`north/upper`), a box in the zone (`north/upper/N1`).

And the room around the incubators (`room`), where a probe may be and no clutch: it is none of the places that are
listed, has a name and probes, and all the others lie in it.
"""

from collections.abc import Iterator
from typing import NamedTuple

from config.model import ROOM, Box, Incubator, Probe, Site, Zone


class _Place(NamedTuple):
    incubator: Incubator
    zone: Zone | None
    box: Box | None

    @property
    def path(self) -> str:
        return "/".join(part.id for part in self if part is not None)


class Places:
    """Looks up the places of one site. Methods that take a place raise KeyError for one that does not exist."""

    def __init__(self, site: Site) -> None:
        self._places = {place.path: place for incubator in site.incubators for place in _places_in(incubator)}
        self._probes: dict[str, tuple[Probe, ...]] = {}
        for probe in site.probes:
            self._probes[probe.place] = (*self._probes.get(probe.place, ()), probe)
        self.all: tuple[str, ...] = tuple(self._places)
        """Every place, in the order of the file, each followed by what lies in it."""
        self.boxes: tuple[str, ...] = tuple(path for path, place in self._places.items() if place.box is not None)
        """The places that are boxes."""

    def exists(self, place: str) -> bool:
        """Tell whether the site has this place, for a clutch or for a probe; the room is not one of them."""
        return place in self._places

    def incubator_of(self, place: str) -> Incubator:
        """Give the incubator in which a place lies."""
        return self._find(place).incubator

    def chain(self, place: str) -> tuple[str, ...]:
        """Give the place and all around it, the most specific first: box, zone, incubator."""
        self._find(place)
        parts = place.split("/")
        return tuple("/".join(parts[:length]) for length in range(len(parts), 0, -1))

    def within(self, place: str) -> tuple[str, ...]:
        """Give the place itself and all places in it."""
        if place == ROOM:
            return (ROOM, *self.all)
        self._find(place)
        return tuple(path for path in self.all if path == place or path.startswith(f"{place}/"))

    def name(self, place: str) -> str:
        """Give the name for people: `North cabinet, upper shelf, box N1`."""
        if place == ROOM:
            return "Room"
        found = self._find(place)
        names = [found.incubator.name]
        if found.zone is not None:
            names.append(found.zone.name)
        if found.box is not None:
            names.append(found.box.name or _spoken(found.box.id))
        return ", ".join(names)

    def temperature_factor(self, place: str) -> float | None:
        """Give the f of ISO 13788, 0 to 1: the box's own, else its incubator's; None where neither is stated."""
        found = self._find(place)
        if found.box is not None and found.box.temperature_factor is not None:
            return found.box.temperature_factor
        return found.incubator.temperature_factor

    def room_temperature_c(self, place: str) -> float | None:
        """Give the stated temperature around the incubator, degree Celsius; None where it is not stated."""
        return self._find(place).incubator.room_temperature_c

    def probes_at(self, place: str) -> tuple[Probe, ...]:
        """Give the probes at exactly this place, not those in it or around it."""
        self._find(place)
        return self._probes.get(place, ())

    def climate_probes_at(self, place: str) -> tuple[Probe, ...]:
        """Give the probes at exactly this place that measure something: not those that are contacts alone."""
        return tuple(probe for probe in self.probes_at(place) if not probe.is_contact)

    def room_probes(self) -> tuple[Probe, ...]:
        """Give the probes in the air around the incubators."""
        return self._probes.get(ROOM, ())

    def _find(self, place: str) -> _Place:
        try:
            return self._places[place]
        except KeyError:
            raise KeyError(f"there is no place {place!r}; the site has {', '.join(self.all) or 'none'}") from None


def _spoken(box_id: str) -> str:
    """`N1` is called `box N1`; `box-1` says already that it is a box."""
    return box_id if box_id.lower().startswith("box") else f"box {box_id}"


def _places_in(incubator: Incubator) -> Iterator[_Place]:
    yield _Place(incubator, None, None)
    for zone in incubator.zones:
        yield _Place(incubator, zone, None)
        for box in zone.boxes:
            yield _Place(incubator, zone, box)
