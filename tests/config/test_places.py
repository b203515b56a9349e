from pathlib import Path

import pytest

from config.places import Places
from config.site import Box, Incubator, Site, Zone, load_site

PLACES = Places(load_site(Path(__file__).parent.parent.parent / "config" / "example"))


def test_all_places_stand_in_the_order_of_the_file_each_before_what_lies_in_it() -> None:
    assert PLACES.all == (
        "north",
        "north/upper",
        "north/upper/N1",
        "north/upper/N2",
        "north/lower",
        "north/lower/N3",
        "south",
    )
    assert PLACES.boxes == ("north/upper/N1", "north/upper/N2", "north/lower/N3")


def test_the_chain_goes_from_the_box_outwards() -> None:
    assert PLACES.chain("north/upper/N1") == ("north/upper/N1", "north/upper", "north")
    assert PLACES.chain("south") == ("south",)


def test_within_gives_the_place_and_all_below_and_no_neighbour_of_a_similar_name() -> None:
    assert PLACES.within("north/upper") == ("north/upper", "north/upper/N1", "north/upper/N2")
    twins = (Incubator(id="north", name="N"), Incubator(id="north-2", name="N2"))
    assert Places(Site(name="x", time_zone="UTC", incubators=twins)).within("north") == ("north",)


def test_names_are_for_people() -> None:
    assert PLACES.name("north/upper/N1") == "North cabinet, upper shelf, box N1"
    assert PLACES.name("north/upper/N2") == "North cabinet, upper shelf, large box N2"
    assert PLACES.name("south") == "South cabinet"


@pytest.mark.parametrize(
    ("box_id", "spoken"), [("N1", "box N1"), ("box-1", "box-1"), ("Box2", "Box2"), ("1-box", "box 1-box")]
)
def test_a_box_without_a_name_is_called_a_box_once(box_id: str, spoken: str) -> None:
    zone = Zone(id="upper", name="upper shelf", boxes=(Box(id=box_id),))
    site = Site(name="x", time_zone="UTC", incubators=(Incubator(id="north", name="North", zones=(zone,)),))
    assert Places(site).name(f"north/upper/{box_id}") == f"North, upper shelf, {spoken}"


def test_a_box_has_its_own_temperature_factor_or_that_of_its_incubator() -> None:
    assert PLACES.temperature_factor("north/upper/N2") == 0.65
    assert PLACES.temperature_factor("north/upper/N1") == 0.8
    assert PLACES.temperature_factor("north/upper") == 0.8
    assert PLACES.temperature_factor("south") is None


def test_the_room_temperature_is_that_around_the_incubator() -> None:
    assert PLACES.room_temperature_c("north/lower/N3") == 21.0
    assert PLACES.room_temperature_c("south") is None


def test_probes_at_a_place_are_those_exactly_there() -> None:
    assert [probe.id for probe in PLACES.probes_at("north/upper")] == ["north-air"]
    assert [probe.id for probe in PLACES.probes_at("north/upper/N1")] == ["box-n1"]
    assert PLACES.probes_at("north") == ()


def test_the_incubator_of_a_box_is_found() -> None:
    assert PLACES.incubator_of("north/lower/N3").name == "North cabinet"


@pytest.mark.parametrize("place", ["", "nord", "north/", "/north", "north/upper/N3"])
def test_a_place_that_does_not_exist_raises_with_the_places_that_do(place: str) -> None:
    assert not PLACES.exists(place)
    for ask in (PLACES.chain, PLACES.within, PLACES.name, PLACES.probes_at, PLACES.incubator_of):
        with pytest.raises(KeyError, match="north/lower/N3"):
            ask(place)


def test_the_room_has_a_name_and_probes_and_holds_every_place_but_is_none_of_them() -> None:
    assert PLACES.name("room") == "Room"
    assert [probe.id for probe in PLACES.room_probes()] == ["room-air"]
    assert PLACES.within("room") == ("room", *PLACES.all)
    assert "room" not in PLACES.all
    assert not PLACES.exists("room")
