"""The forms of probes: take up what is heard, change a probe, take it out of use. Pure."""

from dataclasses import dataclass
from urllib.parse import quote
from zoneinfo import ZoneInfo

from config.site import Probe
from config.words import Quantity
from daemon.probe_values import ProbesSeen, UnknownTopic
from daemon.take_up import Leaf, Named, estimated_interval_s, leaves, named_values, suggested_id
from dashboards import figures
from dashboards.raw_text import harmless
from dashboards.setup_forms import Field, FormView, Typed, filled
from dashboards.setup_probe_paths import TAKE_UP_PATH, probe_path
from dashboards.setup_probes import SHOWN_BYTES, RawLine, quantity_word, raw_line

TAKE_UP, CHANGE, REMOVE = "take-up", "change", "out-of-use"
CHANNEL, LEAF, PLAIN = "channel:", "leaf:", "plain"
LEAVE_OUT = ("", "leave it out")
QUANTITIES = (LEAVE_OUT, *((each.value, quantity_word(each)) for each in Quantity))
VALUES: tuple[tuple[str, str], ...] = (
    LEAVE_OUT,
    ("air_temperature|Cel", "temperature of the air, °C"),
    ("air_temperature|degF", "temperature of the air, °F"),
    ("air_temperature|K", "temperature of the air, K"),
    ("surface_temperature|Cel", "temperature of a surface, °C"),
    ("surface_temperature|degF", "temperature of a surface, °F"),
    ("relative_humidity|percent", "relative humidity, 0 to 100"),
    ("relative_humidity|/", "relative humidity, 0 to 1"),
    ("door|/", "door, 1 or on is open"),
    ("door|inverted", "door, 0 or off is open"),
    ("mains|/", "mains, 1 or on is present"),
    ("mains|inverted", "mains, 0 or off is present"),
    ("time|rfc3339", "the time, such as 2026-05-28T20:26:40Z"),
    ("time|unix", "the time, seconds since 1970"),
    ("time|unix-ms", "the time, milliseconds since 1970"),
)
"""Quantity and unit of a value, by the words of the site file; or the time of the message and how it is written."""


@dataclass(frozen=True, slots=True)
class TakeUpView:
    """The page: what came, and the form for it. `cannot`: why there is no form, in a sentence."""

    site_name: str
    clock: str
    zone: str
    topic: str
    heading: str
    raw: tuple[RawLine, ...]
    form: FormView | None
    cannot: str


@dataclass(frozen=True, slots=True)
class Device:
    """An unknown device as it seems to be. `existing`: the probe that sends more names than it has channels."""

    topic: str
    probe_id: str
    speaks_senml: bool
    named: tuple[Named, ...]
    leaves: tuple[Leaf, ...]
    interval_s: float
    existing: Probe | None = None


def device_of(unknown: UnknownTopic, seen: ProbesSeen, existing: Probe | None) -> Device:
    """Make out what a device is, from what it sent."""
    speaks_senml = unknown.probe is not None
    payloads = unknown.payloads or (unknown.newest.payload,)
    declared = {channel.name for channel in existing.channels} if existing is not None else set()
    named = named_values(payloads, seen.now_ms) if speaks_senml else ()
    return Device(
        topic=unknown.topic,
        probe_id=unknown.probe or suggested_id(unknown.topic, (each.probe.id for each in seen.probes)),
        speaks_senml=speaks_senml,
        named=tuple(each for each in named if each.name not in declared),
        leaves=() if speaks_senml else leaves(unknown.newest.payload),
        interval_s=estimated_interval_s(unknown.times_ms),
        existing=existing,
    )


def take_up_view(unknown: UnknownTopic, device: Device, seen: ProbesSeen, typed: Typed | None = None) -> TakeUpView:
    """The page of one device."""
    zone = ZoneInfo(seen.time_zone)
    cannot = seen.refusal or _nothing_in_it(device)
    return TakeUpView(
        site_name=seen.site_name,
        clock=figures.moment_text(figures.local(seen.now_ms, zone)),
        zone=seen.time_zone,
        topic=harmless(unknown.topic)[:SHOWN_BYTES],
        heading=f"Take up {harmless(device.probe_id)}" if device.existing is None else f"More of {device.probe_id}",
        raw=(raw_line(unknown.newest, zone),),
        form=None if cannot else filled(_take_up(device, seen), typed),
        cannot=cannot,
    )


def change_form(probe: Probe, seen: ProbesSeen, typed: Typed | None = None) -> FormView:
    """Another place or interval for a probe."""
    told = "Clutchwarden takes it up at once, and is away for a few seconds while it does."
    fields = (_place(seen, probe.place), _interval(probe.interval_s), _why())
    hidden = (("mark", seen.mark),)
    form = FormView(CHANGE, probe_path(probe.id), "Change", "Save the change", told, fields, hidden=hidden)
    return filled(form, typed)


def remove_form(probe: Probe, seen: ProbesSeen, typed: Typed | None = None) -> FormView:
    """Take a probe out of use."""
    told = "Nothing watches its place by this probe any more. What it has measured stays."
    fields = (Field("sure", f"Yes, take {probe.id} out of use", "check"), _why())
    hidden = (("mark", seen.mark),)
    form = FormView(REMOVE, probe_path(probe.id), "Out of use", "Take out of use", told, fields, hidden=hidden)
    return filled(form, typed)


def _nothing_in_it(device: Device) -> str:
    if device.speaks_senml and not device.named:
        if device.existing is not None:
            return "Everything that it sends is taken up."
        return "What it sent is no SenML with a value in it, so there is nothing to take up. Correct it on the device."
    if not device.speaks_senml and not device.leaves:
        return "There is no value in what it sent: it is neither JSON with values in it nor a plain number."
    return ""


def _take_up(device: Device, seen: ProbesSeen) -> FormView:
    told = "Look at what is guessed, change what is wrong, and save."
    who = () if device.existing is not None else _new_probe(device, seen)
    values = tuple(_named(each) for each in device.named) + tuple(_leaf(each) for each in device.leaves)
    hidden = (("mark", seen.mark), ("topic", device.topic))
    return FormView(
        TAKE_UP, TAKE_UP_PATH, "Take it up", "Save: take it up", told, (*who, *values), hidden=hidden, is_open=True
    )


def _new_probe(device: Device, seen: ProbesSeen) -> tuple[Field, ...]:
    place, interval = _place(seen, ""), _interval(device.interval_s)
    if device.speaks_senml:
        return (place, interval)
    hint = "Letters, digits, - _ and . only. It is shown with every reading."
    return (Field("id", "Its id", value=device.probe_id, hint=hint, required=True), place, interval)


def _place(seen: ProbesSeen, value: str) -> Field:
    choose = () if value else (("", "choose"),)
    options = (*choose, *((place, f"{name} ({place})") for place, name in seen.places))
    return Field("place", "Where is it?", "select", value, options=options, required=True)


def _interval(interval_s: float) -> Field:
    hint = "If it is silent for three times as long, that is an alarm."
    return Field("interval_s", "It sends every so many seconds", "number", f"{interval_s:g}", hint, required=True)


def _why() -> Field:
    return Field("why", "Why?", hint="May stay empty; it is kept with the change.")


def _named(named: Named) -> Field:
    guess = "" if named.quantity is None else named.quantity.value
    hint = f"Newest: {named.shown}"
    if guess == "" and named.shown.endswith("no unit"):
        hint += ". Clutchwarden never guesses a unit: let the device send u, such as Cel or %RH."
    return Field(f"{CHANNEL}{named.name}", f"What is {named.name}?", "select", guess, hint, options=QUANTITIES)


def _leaf(leaf: Leaf) -> Field:
    name = PLAIN if leaf.pointer is None else f"{LEAF}{quote(leaf.pointer)}"
    what = "the value" if leaf.pointer is None else harmless(leaf.pointer) or "the whole"
    return Field(
        name, f"What is {what}?", "select", "|".join(leaf.guess), f"Newest: {harmless(leaf.shown)}", options=VALUES
    )
