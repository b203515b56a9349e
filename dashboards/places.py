"""Names of places for people, and the ids under which they stand on the page. Pure."""

from daemon.overview import IncubatorNow


def place_name(incubator: IncubatorNow, place: str) -> str:
    """Name a place on a page that already names the incubator."""
    return incubator.place_names.get(place, place)


def full_name(incubator: IncubatorNow, place: str) -> str:
    """Name a place where nothing around it does: the incubator first, since a person has to know where to run to."""
    if place == incubator.incubator_id:
        return incubator.name
    return f"{incubator.name}, {place_name(incubator, place)}"


def sentence_start(text: str) -> str:
    """Begin with a capital, and leave the rest as it is."""
    return text[:1].upper() + text[1:]


def incubator_key(incubator: IncubatorNow) -> str:
    """Give the id of an incubator's heading on the page."""
    return f"incubator-{incubator.incubator_id}"


def place_key(place: str) -> str:
    """Give the id of a place's heading on the page."""
    return f"place-{place}"
