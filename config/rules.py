"""The rules between the tables of a site file, as functions of the site: each mistake, not just the first."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from config.celsius import looks_like_fahrenheit
from config.errors import Mistake
from config.model import ROOM, Probe, Site
from config.people import people_mistakes
from config.places import Places
from config.plain import nearest
from config.salvage import UNKNOWN
from config.sources import source_mistakes
from config.words import Quantity

FILE = "site.toml"
_COLDEST_ROOM_C = -20.0
_WORST_ACCURACY = {True: (5.0, "K"), False: (20.0, "% RH")}
"""For a temperature and for a humidity: a probe that may be further off watches nothing."""
_FINEST_HUMIDITY_PCT = 0.2
"""Below this a number is a fraction; salts and chilled mirrors, by which probes are calibrated, are no better."""


def site_mistakes(site: Site, lost: frozenset[str]) -> tuple[Mistake, ...]:
    """Check a site by every rule that needs no other file.

    `lost` names the tables of which a part could not be read; rules that would misjudge without it are left out.
    """
    rules: list[Callable[[Site], Iterator[Mistake]]] = [
        _time_zone,
        _names_used_twice,
        _rooms,
        _accuracies,
        _contact_places,
        _overlaps,
        _emptiness,
    ]
    found = [mistake for rule in rules for mistake in rule(site)]
    if lost.isdisjoint({UNKNOWN, "incubator", "zone", "box"}):
        found.extend(_unknown_places(site))
    if lost.isdisjoint({UNKNOWN, "person", "contact"}):
        found.extend(people_mistakes(site))
    found.extend(source_mistakes(site, channels_known=lost.isdisjoint({UNKNOWN, "channel"})))
    return tuple(found)


def _time_zone(site: Site) -> Iterator[Mistake]:
    try:
        ZoneInfo(site.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        near = nearest(site.time_zone, available_timezones())
        hint = near if near.startswith("Did") else "Write area and city in English, for example Europe/Berlin, or UTC."
        yield Mistake(FILE, "site.time_zone", f'"{site.time_zone}" is not in the IANA time zone database', hint)


def _names_used_twice(site: Site) -> Iterator[Mistake]:
    yield from _twice("incubator", "id", (one.id for one in site.incubators))
    for incubator in site.incubators:
        path = f"incubator.{incubator.id}.zone"
        yield from _twice(path, "id", (zone.id for zone in incubator.zones))
        for zone in incubator.zones:
            yield from _twice(f"{path}.{zone.id}.box", "id", (box.id for box in zone.boxes))
    yield from _twice("probe", "id", (probe.id for probe in site.probes))
    for probe in site.probes:
        yield from _twice(f"probe.{probe.id}.channel", "name", (channel.name for channel in probe.channels))
    yield from _twice("person", "id", (person.id for person in site.people))


def _twice(path: str, key: str, names: Iterable[str]) -> Iterator[Mistake]:
    for name, count in Counter(names).items():
        if count > 1:
            reason = f'"{name}" stands here {count} times'
            yield Mistake(FILE, f"{path}.{name}.{key}", reason, f"Give each its own {key}, or remove the surplus one.")


def _rooms(site: Site) -> Iterator[Mistake]:
    for incubator in site.incubators:
        if incubator.id == ROOM:
            reason = f'"{ROOM}" is the place of probes in the air around the incubators'
            yield Mistake(FILE, f"incubator.{ROOM}.id", reason, "Give the incubator another id.")
        room_c = incubator.room_temperature_c
        key = f"incubator.{incubator.id}.room_temperature_c"
        fahrenheit = None if room_c is None else looks_like_fahrenheit(room_c)
        if fahrenheit:
            yield Mistake(FILE, key, fahrenheit, "Temperatures in the files are in °C; pages show °F if you wish.")
        elif room_c is not None and room_c < _COLDEST_ROOM_C:
            yield Mistake(
                FILE, key, f"{room_c:g} °C is no room temperature", "Give the temperature around the cabinet."
            )


def _accuracies(site: Site) -> Iterator[Mistake]:
    """Refuse a plus or minus that no probe can have. Common practice, no source for the bounds."""
    for probe in site.probes:
        for channel in probe.channels:
            reason = None if channel.accuracy is None else _absurd(channel.accuracy, channel.quantity)
            if reason:
                hint = "Give the ± of the probe's data sheet: 0.5 for ±0.5 °C, 3 for ±3 % RH. Or leave it out."
                if channel.quantity.is_contact:
                    hint = "Leave accuracy out."
                yield Mistake(FILE, f"probe.{probe.id}.channel.{channel.name}.accuracy", reason, hint)


def _absurd(accuracy: float, quantity: Quantity) -> str | None:
    if quantity.is_contact:
        return f"a {quantity.value} contact says one of two things and has no accuracy"
    worst, unit = _WORST_ACCURACY[quantity.is_temperature]
    if accuracy <= 0:
        return f"an accuracy of ±{accuracy:g} {unit} is not possible: every probe is a little off"
    if accuracy > worst:
        reason = f"±{accuracy:g} {unit} is no accuracy of a probe that can watch eggs"
        return f"{reason}; at most ±{worst:g} {unit} can stand here"
    if not quantity.is_temperature and accuracy < _FINEST_HUMIDITY_PCT:
        return f"±{accuracy:g} % RH looks like a fraction: it would be ±{accuracy * 100:g} % RH"
    return None


def _contact_places(site: Site) -> Iterator[Mistake]:
    """A contact speaks for a whole incubator; one of the mains may also be in the room, for all incubators."""
    for probe in site.probes:
        for channel in probe.channels:
            word, is_mains = channel.quantity.value, channel.quantity is Quantity.MAINS
            fits = is_mains if probe.place == ROOM else "/" not in probe.place
            if fits or not channel.quantity.is_contact:
                continue
            where = f' or "{ROOM}"' if is_mains else ""
            reason = f"a {word} contact belongs to a whole incubator{where}, not to {probe.place}"
            hint = f"Make it a probe of its own; its place is the id of the incubator{where}."
            yield Mistake(FILE, f"probe.{probe.id}.channel.{channel.name}", reason, hint)


def _unknown_places(site: Site) -> Iterator[Mistake]:
    places = Places(site)
    for probe in site.probes:
        in_the_room = probe.place == ROOM and bool(places.all)
        if not in_the_room and not places.exists(probe.place):
            hint = nearest(probe.place, (*places.all, ROOM)) if places.all else "State an incubator first."
            yield Mistake(FILE, f"probe.{probe.id}.place", f'there is no place "{probe.place}"', hint)


def _overlaps(site: Site) -> Iterator[Mistake]:
    """Two channels of one quantity at one place: nothing says which of them the heat sum and the alarms follow."""
    first: dict[tuple[str, Quantity], tuple[Probe, str]] = {}
    for probe in site.probes:
        for channel in probe.channels:
            other, name = first.setdefault((probe.place, channel.quantity), (probe, channel.name))
            if (other, name) == (probe, channel.name):
                continue
            quantity = channel.quantity.value.replace("_", " ")
            doubt = "which one is the room's?" if probe.place == ROOM else "which one would heat and alarms follow?"
            doubt = "which one counts?" if channel.quantity.is_contact else doubt
            both = f"{other.id}/{name} and {probe.id}/{channel.name} both measure {quantity} at {probe.place}"
            hint = "Give one of them the box or zone where it really lies, or remove its channel."
            yield Mistake(FILE, f"probe.{probe.id}.channel.{channel.name}", f"{both}: {doubt}", hint)


def _emptiness(site: Site) -> Iterator[Mistake]:
    """Warn of what may be meant so, and yet leaves eggs unwatched or nobody told."""
    if not site.incubators:
        yield _warning("incubator", "no incubator is stated", "Add [[incubator]] with an id and a name.")
    for incubator in site.incubators:
        if not any(_is_within(probe.place, incubator.id) and not probe.is_contact for probe in site.probes):
            reason = "no probe is in this incubator, so nothing watches it"
            yield _warning(f"incubator.{incubator.id}", reason, f'Add [[probe]] with place = "{incubator.id}".')
    for probe in site.probes:
        if not probe.channels:
            reason = "the probe has no channel, so nothing of it is stored"
            yield _warning(f"probe.{probe.id}", reason, "Add [[probe.channel]] with a name and a quantity.")
        elif probe.is_contact:
            continue
        elif probe.place == ROOM and all(each.quantity is not Quantity.AIR_TEMPERATURE for each in probe.channels):
            reason = "the probe is in the room and measures no air temperature, so the room counts as not measured"
            yield _warning(f"probe.{probe.id}", reason, "Add [[probe.channel]] with its air temperature.")
    if not any(person.contacts for person in site.people):
        reason = "no person has a contact, so an alarm reaches nobody's phone"
        yield _warning("person", reason, "Add [[person]] with [[person.contact]].")
    elif not site.messages.test:
        reason = "no weekly test is sent, so nobody learns in time that alerts do not arrive any more"
        yield _warning("messages.test", reason, "Remove it, or set test = true; test_day and test_time say when.")


def _is_within(place: str, incubator_id: str) -> bool:
    return place.split("/", maxsplit=1)[0] == incubator_id


def _warning(key: str, reason: str, hint: str) -> Mistake:
    return Mistake(FILE, key, reason, hint, severity="warning")
