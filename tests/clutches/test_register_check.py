"""A register that does not fit the site is told, each mismatch by itself."""

from dataclasses import replace

from daemon.clutches.check import register_mistakes
from daemon.clutches.register import Clutch, Placement

PLACES = ("north", "north/upper", "north/upper/N1", "north/upper/N2")
SPECIES = {"elaphe-taeniura": object(), "python-regius": object()}
FITTING = Clutch(1, "ET-26-1", "elaphe-taeniura", None, 0, 0, 9, "", None, (Placement("north/upper/N1", 0),))


def test_a_register_that_fits_has_no_mistakes() -> None:
    assert register_mistakes([FITTING], PLACES, SPECIES) == ()


def test_a_place_that_is_not_in_the_site_names_clutch_place_and_the_nearest_place() -> None:
    lost = replace(FITTING, placements=(Placement("north/uper/N1", 0),))
    (mistake,) = register_mistakes([lost], PLACES, SPECIES)
    assert mistake.severity == "mistake"
    assert "ET-26-1" in mistake.reason
    assert "north/uper/N1" in mistake.reason
    assert "north/upper/N1" in mistake.hint


def test_an_unknown_species_names_clutch_species_and_the_nearest_profile() -> None:
    (mistake,) = register_mistakes([replace(FITTING, species_id="elaphe-taenura")], PLACES, SPECIES)
    assert mistake.severity == "mistake"
    assert "ET-26-1" in mistake.reason
    assert "elaphe-taenura" in mistake.reason
    assert "elaphe-taeniura" in mistake.hint


def test_each_mismatch_of_each_clutch_is_its_own_message() -> None:
    both = replace(FITTING, species_id="nobody", placements=(Placement("south", 0),))
    other = replace(FITTING, label="PG-26-7", placements=(Placement("west", 0),))
    found = register_mistakes([both, FITTING, other], PLACES, SPECIES)
    assert [mistake.key for mistake in found] == ["ET-26-1.species", "ET-26-1.place", "PG-26-7.place"]


def test_a_place_of_the_past_that_is_gone_is_a_warning_once() -> None:
    moved = (Placement("gone", 0), Placement("north", 1), Placement("gone", 2), Placement("north/upper/N1", 3))
    (mistake,) = register_mistakes([replace(FITTING, placements=moved)], PLACES, SPECIES)
    assert mistake.severity == "warning"
    assert "gone" in mistake.reason
