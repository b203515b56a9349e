"""Pure: the places of a walk in the order in which they stand: that of the site file."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from config.places import Places
from config.species import SpeciesProfile
from daemon.clutches.boxes import spans
from daemon.clutches.placements import in_force
from daemon.clutches.values import Clutch, is_venomous
from daemon.rounds.values import Stop, key_of


def stops(
    places: Places,
    profiles: Mapping[str, SpeciesProfile],
    clutches: Sequence[Clutch],
    at_ms: int,
    incubators: Iterable[str],
) -> tuple[Stop, ...]:
    """Give every box of these incubators, empty ones too, and every clutch there that lies in no box, at a moment."""
    wanted = set(incubators)
    lying: dict[str, list[Clutch]] = {}
    for clutch in clutches:
        place = place_at(clutch, at_ms)
        if place is not None:
            lying.setdefault(place, []).append(clutch)
    return tuple(
        stop_of(places, profiles, place, clutch)
        for place in places.all
        if places.incubator_of(place).id in wanted
        for clutch in _at(places, place, lying.get(place, []))
    )


def place_at(clutch: Clutch, at_ms: int) -> str | None:
    """Give where a clutch lay at a moment; None before it was set up and after its end."""
    found = in_force(clutch.placements, at_ms)
    gone = at_ms >= clutch.end_ms or clutch.withdrawn_at_ms is not None
    return None if found is None or gone else found.place


def last_lay_ms(clutch: Clutch, place: str, from_ms: int, until_ms: int) -> int | None:
    """Give the last moment of a stretch, both ends included, at which a clutch lay in a place; None without any."""
    lay = [
        min(left_ms - 1, until_ms)
        for stay, left_ms in spans(clutch.placements, clutch.end_ms)
        if stay.place == place and stay.from_ms <= until_ms and left_ms > from_ms and left_ms > stay.from_ms
    ]
    return max(lay, default=None)


def stop_of(places: Places, profiles: Mapping[str, SpeciesProfile], place: str, clutch: Clutch | None) -> Stop:
    """Give one stop. The place must exist."""
    incubator = places.incubator_of(place)
    whole_name = places.name(place)
    profile = None if clutch is None else profiles.get(clutch.species_id)
    return Stop(
        key=key_of(place, None if clutch is None else clutch.clutch_id, is_box=place in places.boxes),
        place=place,
        name=whole_name.removeprefix(f"{incubator.name}, "),
        whole_name=whole_name,
        incubator=incubator.id,
        incubator_name=incubator.name,
        clutch_id=None if clutch is None else clutch.clutch_id,
        label="" if clutch is None else clutch.label,
        species_name="" if clutch is None else clutch.species_id if profile is None else profile.common_name,
        venomous=clutch is not None and is_venomous(clutch, profile is not None and profile.venomous),
        cautioned=profile is not None and profile.caution is not None,
    )


def place_of(key: str) -> tuple[str, int | None]:
    """Take a key apart: the place, and the number of the clutch where it lies in no box."""
    place, mark, number = key.partition("@")
    # No number of the journal is longer than 18 digits for sure.
    is_number = mark and number.isascii() and number.isdigit() and len(number) <= 18  # noqa: PLR2004 - see above
    return (place, int(number)) if is_number else (place, None)


def _at(places: Places, place: str, lying: Sequence[Clutch]) -> Iterator[Clutch | None]:
    yield from lying
    if not lying and place in places.boxes:
        yield None
