import copy
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import SecretStr, ValidationError

from config.errors import ConfigError, Mistake
from config.site import AlarmTuning, Box, Contact, Incubator, Person, Probe, Site, Zone, load_site, read_site
from config.words import AlarmKind, Quantity

EXAMPLE = Path(__file__).parent.parent.parent / "config" / "example"
TOKEN = "TOKEN-4711"
DOCUMENT = tomllib.loads((EXAMPLE / "site.toml").read_text(encoding="utf-8"))


def test_the_example_site_has_no_mistake_and_no_warning() -> None:
    assert read_site(EXAMPLE).mistakes == ()


def test_the_example_site_reads_as_it_is_written() -> None:
    site = load_site(EXAMPLE)
    north, south = site.incubators
    assert (north.id, north.name, north.room_temperature_c, north.temperature_factor) == (
        "north",
        "North cabinet",
        21.0,
        0.8,
    )
    assert [zone.id for zone in north.zones] == ["upper", "lower"]
    assert north.zones[0].boxes == (Box(id="N1"), Box(id="N2", name="large box N2", temperature_factor=0.65))
    assert south.zones == ()
    assert [probe.interval_s for probe in site.probes] == [60, 60, 300, 300]
    assert (north.room_temperature_u_k, south.room_temperature_u_k) == (2.0, 3.0)
    assert site.probes[2].place == "room"
    assert [channel.quantity for channel in site.probes[1].channels] == [
        Quantity.AIR_TEMPERATURE,
        Quantity.SURFACE_TEMPERATURE,
    ]
    assert [(source.channel, source.pointer, source.unit) for source in site.probes[3].sources] == [
        ("t", "/climate/temperature", "degF"),
        ("rh", "/climate/humidity", "/"),
    ]
    assert site.alarms == {AlarmKind.TEMPERATURE_HIGH: AlarmTuning(on_delay_s=600, off_delay_s=300, deadband=0.3)}


def test_a_site_is_fixed_after_reading() -> None:
    site = load_site(EXAMPLE)
    with pytest.raises(ValidationError):
        site.name = "Another"


def test_models_can_be_made_by_the_names_of_their_attributes() -> None:
    site = Site(
        name="Here",
        time_zone="UTC",
        incubators=(Incubator(id="north", name="North", zones=(Zone(id="upper", name="upper shelf"),)),),
        probes=(Probe(id="air", place="north"),),
        people=(Person(id="mara", name="Mara"),),
    )
    assert site.incubators[0].zones[0].id == "upper"


@pytest.mark.parametrize("name", ["a/b", "a:b", "", "-a", ".a", "_a", "ä", "a b", "a\n", "a" * 65])
def test_ids_that_a_topic_a_path_or_senml_cannot_hold_are_refused(name: str) -> None:
    with pytest.raises(ValidationError):
        Box(id=name)


@pytest.mark.parametrize("name", ["N1", "7", "north-air", "a.b_c-D", "a" * 64])
def test_ids_of_plain_letters_digits_and_three_signs_are_accepted(name: str) -> None:
    assert Box(id=name).id == name


def test_a_contact_reveals_its_address_only_when_asked(tmp_path: Path) -> None:
    contact = Contact(kind="webhook", url=SecretStr(f"https://example.org/{TOKEN}"))
    assert TOKEN not in repr(contact)
    assert TOKEN not in str(contact.model_dump())
    assert contact.reveal(tmp_path) == f"https://example.org/{TOKEN}"


def test_an_address_in_a_file_is_read_relative_to_the_site_folder_without_its_line_break(tmp_path: Path) -> None:
    (tmp_path / "secrets").mkdir()
    (tmp_path / "secrets" / "mara").write_text(f"https://example.org/{TOKEN}\n", encoding="utf-8")
    contact = Contact(kind="webhook", url_file=Path("secrets/mara"))
    assert contact.reveal(tmp_path) == f"https://example.org/{TOKEN}"


def test_an_empty_address_file_is_a_mistake(tmp_path: Path) -> None:
    (tmp_path / "mara").write_text("\n", encoding="utf-8")
    with pytest.raises(ConfigError, match="is empty"):
        Contact(kind="webhook", url_file=Path("mara")).reveal(tmp_path)


def test_no_error_of_the_models_repeats_an_address() -> None:
    with pytest.raises(ValidationError) as raised:
        Contact.model_validate({"kind": TOKEN, "url": {"a": TOKEN}})
    assert TOKEN not in str(raised.value)


@pytest.mark.parametrize("name", ["Alder\tLane", "Alder Lane\u202e", "Alder Lane\\"])
def test_names_of_a_site_that_a_message_or_a_mirror_cannot_hold_are_refused(name: str, tmp_path: Path) -> None:
    write_site(tmp_path, DOCUMENT["site"] | {"name": name})
    assert [one.key for one in read_site(tmp_path).mistakes] == ["site.name"]


@pytest.mark.parametrize("name", ["Europe", "/etc/passwd", "../UTC", "Mars/Olympus", "CEST", "x"])
def test_time_zones_that_do_not_exist_are_a_mistake(name: str, tmp_path: Path) -> None:
    write_site(tmp_path, DOCUMENT["site"] | {"time_zone": name})
    assert [one.key for one in read_site(tmp_path).mistakes] == ["site.time_zone"]


def test_an_error_lists_every_mistake_in_readable_blocks() -> None:
    first, second = (
        Mistake("site.toml", "a", "is wrong", "Mend it."),
        Mistake("site.toml", "", "is odd", "See.", "warning"),
    )
    assert str(ConfigError([first, second])) == (
        "site.toml: a\n  is wrong\n  Mend it.\nsite.toml (warning)\n  is odd\n  See."
    )


def write_site(folder: Path, head: dict[str, Any]) -> None:
    lines = [f"{key} = {json.dumps(value)}" for key, value in head.items()]
    (folder / "site.toml").write_text("[site]\n" + "\n".join(lines), encoding="utf-8")


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=True) | st.text(max_size=5),
    lambda inside: st.lists(inside, max_size=3) | st.dictionaries(st.text(max_size=5), inside, max_size=3),
    max_leaves=5,
)


def locations(document: Any, path: tuple[int | str, ...] = ()) -> list[tuple[int | str, ...]]:
    inside: list[tuple[int | str, Any]] = []
    if isinstance(document, dict):
        inside = list(document.items())
    elif isinstance(document, list):
        inside = list(enumerate(document))
    return [path, *(found for step, child in inside for found in locations(child, (*path, step)))]


@settings(deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.sampled_from(locations(DOCUMENT)[1:]), JUNK), min_size=1, max_size=4))
def test_whatever_stands_in_the_site_file_the_check_ends_in_mistakes_and_never_raises(
    changes: list[tuple[tuple[int | str, ...], Any]],
) -> None:
    document = copy.deepcopy(DOCUMENT)
    for location, junk in changes:
        put(document, location, junk)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("config.site.read_toml", lambda *_: (document, ()))
        site, mistakes = read_site(EXAMPLE)
    assert (site is None) == any(one.severity == "mistake" for one in mistakes)
    assert all(one.reason and one.hint for one in mistakes)


def put(document: Any, location: tuple[int | str, ...], junk: Any) -> None:
    try:
        for step in location[:-1]:
            document = document[step]
        document[location[-1]] = junk
    except (KeyError, IndexError, TypeError):
        return
