"""Pure: whether the register fits the site."""

from collections.abc import Collection, Iterable

from config.errors import Mistake
from config.plain import nearest
from daemon.clutches.register import Clutch

_FILE = "register"


def register_mistakes(
    clutches: Iterable[Clutch], site_places: Collection[str], profiles: Collection[str]
) -> tuple[Mistake, ...]:
    """Give what stands in the register and not in the site: a place or a species that does not exist.

    `profiles` are the known species (a mapping by species id will do). A place where a clutch only lay in the past is a
    warning: the site may have changed since.
    """
    return tuple(
        mistake for clutch in clutches for mistake in (*_species(clutch, profiles), *_places(clutch, site_places))
    )


def _species(clutch: Clutch, profiles: Collection[str]) -> Iterable[Mistake]:
    if clutch.species_id not in profiles:
        yield Mistake(
            _FILE,
            f"{clutch.label}.species",
            f"there is no species profile {clutch.species_id!r}, so {clutch.label} has no limits and no heat",
            f"{nearest(clutch.species_id, profiles)} Otherwise add a profile of that name to the site folder.",
        )


def _places(clutch: Clutch, site_places: Collection[str]) -> Iterable[Mistake]:
    if not clutch.placements:
        return
    *past, present = [stay.place for stay in clutch.placements]
    if present not in site_places:
        yield Mistake(
            _FILE,
            f"{clutch.label}.place",
            f"{clutch.label} lies in {present!r}, which is not in site.toml, so nothing watches it",
            f"{nearest(present, site_places)} Move the clutch to a place of the site, or add the place to site.toml.",
        )
    for place in dict.fromkeys(past):
        if place not in site_places and place != present:
            yield Mistake(
                _FILE,
                f"{clutch.label}.place",
                f"{clutch.label} once lay in {place!r}, which is not in site.toml; heat of that time is missing",
                f"{nearest(place, site_places)} Correct the move, or keep the place in site.toml for now.",
                "warning",
            )
