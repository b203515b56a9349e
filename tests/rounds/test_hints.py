"""What to look for in a box. Shares and thresholds are project choices (daemon/rounds/hints.py)."""

from dataclasses import replace

import pytest

from config.species import HumidityRange, Sourced, SpeciesProfile, load_profiles
from daemon.clutches.eggs import EggCounts
from daemon.clutches.measures import Swelling
from daemon.rounds.beside import beside
from daemon.rounds.cautions import PRACTICE, cautions
from daemon.rounds.hints import Hint, hints, share_of
from daemon.rounds.sheet import BoxSheet
from daemon.rounds.values import BoxState, Lid, Medium
from tests.rounds.bench import START_MS
from tests.rounds.sheets import clutch, found, humidity, sheet, water

PROFILES = load_profiles()
RATSNAKE = PROFILES["elaphe-taeniura"]


def told(made: BoxSheet, profile: SpeciesProfile | None = RATSNAKE, state: BoxState | None = None) -> list[Hint]:
    return list(hints(made, profile, state))


def words(made: BoxSheet, profile: SpeciesProfile | None = RATSNAKE, state: BoxState | None = None) -> str:
    return " ".join(each.text for each in told(made, profile, state))


def test_a_dry_box_is_told_of_water_first_and_where_it_goes() -> None:
    for made, state in (
        (sheet(), found(medium=Medium.DRY)),
        (sheet(dry_days=3.0), None),
        (sheet(last=found(medium=Medium.DRY)), None),
        (sheet(humidity=humidity(70, below=30)), None),
    ):
        assert told(made, state=state)[0].text.startswith("Water goes on the medium")
    assert told(sheet())[0].text != "Water goes on the medium, along the edges or in a corner, never on eggs."
    assert "never on eggs" in words(sheet())


def test_dents_mean_a_dry_box_early_and_nothing_near_term() -> None:
    dry = found(medium=Medium.DRY)
    early, late = sheet(clutch=clutch(share=0.3)), sheet(clutch=clutch(share=0.9))
    assert "Dents this early mean that the box is dry" in words(early, state=dry)
    assert "Dents near the end are normal" not in words(early, state=dry)
    assert "Dents near the end are normal" in words(late, state=dry)
    assert "Dents this early" not in words(late, state=dry)


def test_hard_shells_neither_dent_nor_swell() -> None:
    """Of tortoises and crocodilians."""
    tortoise = PROFILES["testudo-hermanni"]
    made = sheet(clutch=clutch(group="tortoise", share=0.3, counts=EggCounts(8, 7, watch=1)))
    text = words(made, tortoise, found(medium=Medium.DRY))
    assert "Dents" not in text
    assert "swell" not in text
    assert "springy" not in text


def test_windows_are_harmless_where_the_air_is_damp() -> None:
    assert "windows" in words(sheet(humidity=humidity(95)))
    assert "windows" in words(sheet(), state=found(medium=Medium.WET))
    assert "windows" not in words(sheet(humidity=humidity(82)))
    # The air of the shelf says nothing of a lidded box.
    assert "windows" not in words(sheet(humidity=humidity(95, in_box=False)))


def test_a_species_that_wants_it_drier_says_so_with_the_source_of_its_profile() -> None:
    drier = RATSNAKE.model_copy(
        update={
            "humidity": HumidityRange(low=Sourced(value=55, source="A"), high=Sourced(value=75, source="B 1999, p. 3"))
        }
    )
    [hint] = [each for each in told(sheet(), drier) if "drier" in each.text]
    assert hint.text == "This species wants it drier than most: 55 to 75 % RH."
    assert hint.source == "B 1999, p. 3"
    assert "drier" not in words(sheet())


def test_tortoises_want_it_drier() -> None:
    """Spotila et al. 1994: wet sand (-5 kPa) kills eggs of Gopherus agassizii, which hatch in dry sand."""
    told_of = told(sheet(clutch=clutch(group="tortoise")), PROFILES["testudo-hermanni"])
    assert [each.source[:20] for each in told_of if "drier" in each.text] == ["Spotila et al. 1994 "]


def test_veins_and_swelling_belong_to_the_first_half() -> None:
    assert "red veins" in words(sheet(clutch=clutch(share=0.3)))
    assert "red veins" not in words(sheet(clutch=clutch(share=0.8)))
    assert "swell towards 1.5 times" in words(sheet(clutch=clutch(share=0.3)))
    measured = Swelling(1.2, "mass", START_MS, START_MS, "")
    assert "Measured: 1.20 times the first mass." in words(sheet(clutch=clutch(share=0.9, swelling=measured)))


def test_eggs_on_watch_bring_what_keepers_judge_them_by() -> None:
    text = words(sheet(clutch=clutch(counts=EggCounts(8, 7, watch=1))))
    for part in ("springy", "firm or slimy", "over half of its shell", "stays where it is", "only on the spot"):
        assert part in text
    assert "springy" not in words(sheet())


def test_not_turning_eggs_has_a_source_where_it_was_studied() -> None:
    """Aubret et al. 2015, Scientific Reports 5:13385, on Natrix maura, a snake."""
    [snake] = [each for each in told(sheet()) if "turn" in each.text]
    assert "Aubret et al. 2015" in snake.source
    [gecko] = [each for each in told(sheet(clutch=clutch(group="gecko"))) if "turn" in each.text]
    assert gecko.source == PRACTICE


def test_notes_of_a_profile_come_in_their_time_with_their_source() -> None:
    """Fitch 1963: from the first slits to the last exits a day."""
    racer = PROFILES["coluber-constrictor"]
    assert "slit eggs alone" not in words(sheet(clutch=clutch(share=0.3)), racer)
    late = told(sheet(clutch=clutch(share=0.95)), racer)
    assert [each.source for each in late if "slit eggs alone" in each.text] == ["Fitch 1963 (Coluber constrictor)"]


def test_of_venomous_animals_nothing_is_told_that_needs_a_hand() -> None:
    made = sheet(
        clutch=clutch(venomous=True, share=0.9, counts=EggCounts(8, 7, watch=1)),
        dry_days=2.0,
        humidity=humidity(95),
        water_on_lid=water(40, stays_wet=True),
    )
    found_hints = told(made, PROFILES["naja-atra"], found(medium=Medium.DRY, lid=Lid.DRIPPING))
    assert found_hints
    assert all(each.by_eye for each in found_hints)
    text = " ".join(each.text for each in found_hints)
    for hand in ("Wipe", "Water goes", "springy", "Powder", "weigh", "light", "turn"):
        assert hand not in text


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_every_hint_of_every_species_is_a_sentence_with_a_source(name: str) -> None:
    profile = PROFILES[name]
    for share in (None, 0.02, 0.3, 0.5, 0.7, 0.95, 1.1):
        made = sheet(clutch=clutch(group=profile.group, share=share, counts=EggCounts(8, 6, watch=2)))
        for state in (None, found(medium=Medium.DRY, lid=Lid.DRIPPING), found(medium=Medium.WET)):
            all_of_it = told(made, profile, state)
            assert len(all_of_it) == len({each.text for each in all_of_it})
            assert all(each.text.endswith(".") and each.source for each in all_of_it)


def test_an_empty_box_has_no_hints() -> None:
    assert told(sheet(clutch=None)) == []


def test_days_stand_for_heat_where_only_a_usual_duration_is_known() -> None:
    """Bearded dragon, 55 to 75 days: the middle is 65, so day 13 is a fifth."""
    assert share_of(clutch(day=13), PROFILES["pogona-vitticeps"]) == pytest.approx(0.2)
    assert share_of(clutch(day=13, share=0.4), PROFILES["pogona-vitticeps"]) == 0.4
    assert share_of(clutch(day=13), None) is None


def test_cautions_name_their_sources_and_the_dangerous_come_first() -> None:
    plain = cautions(RATSNAKE, venomous=False)
    assert not any(each.first for each in plain)
    text = " ".join(each.text for each in plain)
    for part in ("Salmonella", "veterinarian", "RCD or GFCI", "local law"):
        assert part in text
    assert all(each.source for each in plain)
    cobra = cautions(PROFILES["naja-atra"], venomous=True, protected="CITES Annex B, certificate 12")
    assert cobra[0].text == "Venomous: trained handlers only."
    assert [each.first for each in cobra[:2]] == [True, True]
    assert "certificate 12" in cobra[-1].text
    # A crocodile's profile has a caution and is not venomous.
    assert cautions(PROFILES["crocodylus-palustris"], venomous=False)[0].first


def test_probe_and_hand_that_say_different_things() -> None:
    [one] = beside(sheet(humidity=humidity(92)), found(medium=Medium.DRY))
    assert one.startswith("The probe in the box said 92 % RH on average, and the medium feels dry: check the probe")
    [other] = beside(sheet(humidity=humidity(60)), found(medium=Medium.WET))
    assert "feels wet" in other
    assert beside(sheet(humidity=humidity(92)), found(medium=Medium.CLUMPS)) == ()
    assert beside(sheet(humidity=humidity(92, in_box=False)), found(medium=Medium.DRY)) == ()
    assert beside(sheet(humidity=humidity(92)), None) == ()


def test_lid_and_calculation_that_say_different_things() -> None:
    [dry] = beside(sheet(water_on_lid=water(40, stays_wet=True)), found(lid=Lid.DRY))
    assert "about 40 of 48 h" in dry
    [wet] = beside(sheet(water_on_lid=water(0.2)), found(lid=Lid.DRIPPING))
    assert "hardly any water" in wet
    assert beside(sheet(water_on_lid=water(20)), found(lid=Lid.DRIPPING)) == ()
    unknown = replace(water(0), hours_known=3.0)
    assert beside(sheet(water_on_lid=unknown), found(lid=Lid.DRIPPING)) == ()
