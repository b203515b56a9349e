"""The pages of species: every figure with its source, cautions first, and what an own profile starts from."""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from config.species import SpeciesProfile, load_profiles
from daemon.species_shelf import SpeciesShelf
from dashboards.species_drawing import days_drawing, limits_drawing, stage_rows
from dashboards.species_list import species_list_view
from dashboards.species_page import species_view
from tests.dashboards import samples
from tests.support.upkept import UpkeptHouse, upkept_house, words

PROFILES = load_profiles()
COMMON = "common practice, no source"
OWN = """
id = "elaphe-taeniura"
scientific_name = "Elaphe <b>taeniura</b>"
common_name = "of my own"
group = "snake"
[temperature]
low = { value = 25, source = "common practice, no source" }
high = { value = 29, source = "common practice, no source" }
lethal_low = { value = 8, source = "common practice, no source" }
lethal_high = { value = 34, source = "common practice, no source" }
[[exposure]]
above_c = 32
minutes = 90
within_h = 24
source = "common practice, no source"
"""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[UpkeptHouse]:
    with upkept_house(tmp_path_factory.mktemp("species")) as made:
        yield made


def sources(stated: object) -> Iterator[str]:
    """Every source in a profile, however deep."""
    if isinstance(stated, dict):
        for name, value in stated.items():
            if name.endswith("source") and value:
                yield value
            else:
                yield from sources(value)
    elif isinstance(stated, list | tuple):
        for each in stated:
            yield from sources(each)


@pytest.mark.parametrize("species_id", sorted(PROFILES))
def test_every_figure_of_a_built_in_profile_stands_there_with_its_source(house: UpkeptHouse, species_id: str) -> None:
    text = house.words(f"/set-up/species/{species_id}")
    profile = PROFILES[species_id]
    for source in sources(profile.model_dump()):
        assert " ".join(source.split()) in text
    for limit in (profile.temperature.low, profile.temperature.high, profile.temperature.lethal_high):
        assert f"{limit.value:.1f} °C" in text
    if profile.development is not None:
        assert f"developmental zero T0 {profile.development.developmental_zero_c:g} °C" in text
    for one in profile.durations:
        assert f"at a constant {one.temperature_c:.1f} °C {one.days:g} days" in text


@pytest.mark.parametrize("species_id", ["naja-atra", "bungarus-multicinctus", "deinagkistrodon-acutus"])
def test_of_a_venomous_species_the_caution_comes_before_everything(house: UpkeptHouse, species_id: str) -> None:
    html = house.look(f"/set-up/species/{species_id}").text
    main = words(html[html.index("<main") :])
    name = PROFILES[species_id].scientific_name
    assert main.startswith(f"All species {name} Caution. Venomous, and hatchlings are venomous from the start")
    assert re.search(rf'id="species-{species_id}".*?Caution\..*?</li>', house.look("/set-up/species").text, re.DOTALL)


@pytest.mark.parametrize(
    ("searched", "found"),
    [
        ("cobra", ["naja-atra"]),
        ("NAJA", ["naja-atra"]),
        ("ball python", ["python-regius"]),
        ("elaphe-tae", ["elaphe-taeniura"]),
        ("elaphe tae", ["elaphe-taeniura"]),
        ("köbra", []),
        ("cöbra", ["naja-atra"]),
        ("tuatara", ["sphenodon-punctatus"]),
        ("<script>", []),
    ],
)
def test_the_search_finds_any_name_and_needs_no_capitals_and_no_accents(searched: str, found: list[str]) -> None:
    view = species_list_view(PROFILES, frozenset(), samples.overview(), searched)
    assert [row.species_id for row in view.rows] == found
    assert view.count == f"{len(found)} of {len(PROFILES)}"
    assert bool(view.notice) is not bool(found)


def test_without_a_search_all_are_listed_those_in_use_first(house: UpkeptHouse) -> None:
    overview = samples.overview()
    used = {each.species_id for incubator in overview.incubators for each in incubator.clutches}
    rows = species_list_view(PROFILES, frozenset({"natrix-natrix"}), overview, "").rows
    assert len(rows) == len(PROFILES)
    in_use = [row.species_id for row in rows if row.used_by]
    assert set(in_use) == used & set(PROFILES)
    assert [row.species_id for row in rows][: len(in_use) + 1] == [*in_use, "natrix-natrix"]
    html = house.look("/set-up/species?q=%3Cscript%3E").text
    assert 'value="&lt;script&gt;"' in html
    assert "No profile has such a name." in html


def test_the_text_of_the_file_is_there_to_copy_and_to_save(house: UpkeptHouse) -> None:
    answer = house.look("/set-up/species/python-regius.toml")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="python-regius.toml"'
    assert answer.headers["Content-Type"].startswith("application/toml")
    stated = tomllib.loads(answer.text)
    assert SpeciesProfile.model_validate(stated) == PROFILES["python-regius"]
    page = house.look("/set-up/species/python-regius").text
    found = re.search(r"<textarea[^>]* readonly>(.*?)</textarea>", page, re.DOTALL)
    assert found is not None
    assert "profiles/python-regius.toml" in page


def test_an_own_profile_takes_the_place_of_the_built_in_one_and_says_so(tmp_path: Path) -> None:
    own = tmp_path / "profiles"
    own.mkdir()
    (own / "elaphe-taeniura.toml").write_text(OWN, encoding="utf-8")
    profiles = load_profiles(own)
    shelf = SpeciesShelf(profiles, tmp_path)
    assert shelf.is_own("elaphe-taeniura")
    assert not shelf.is_own("naja-atra")
    assert shelf.text("elaphe-taeniura") == OWN
    assert shelf.text("nothing") is None
    view = species_view(profiles["elaphe-taeniura"], OWN, samples.overview(), is_own=True)
    assert view.is_own
    assert view.heading == "Elaphe <b>taeniura</b>"
    assert view.days is None
    shown = {each.name: each.value for section in view.sections for each in section.figures}
    assert shown["above 32.0\N{NO-BREAK SPACE}°C"] == "at most 90 min within 24 h"
    assert shown["a short cold spell kills below"] == "8.0\N{NO-BREAK SPACE}°C"
    strokes = limits_drawing(profiles["elaphe-taeniura"], fahrenheit=False).strokes
    assert [each.style for each in strokes].count("range-exposure") == 1


def test_a_venomous_profile_without_a_text_of_its_own_still_warns() -> None:
    profile = PROFILES["naja-atra"].model_copy(update={"caution": None})
    assert species_view(profile, "", samples.overview(), is_own=True).caution.startswith("Venomous.")


@pytest.mark.parametrize("species_id", sorted(PROFILES))
@pytest.mark.parametrize("fahrenheit", [False, True])
def test_every_picture_stays_inside_its_frame_and_is_told_in_words(species_id: str, fahrenheit: bool) -> None:
    profile = PROFILES[species_id]
    limits, days = (drawn(profile, fahrenheit=fahrenheit) for drawn in (limits_drawing, days_drawing))
    for picture in (limits, days):
        if picture is None:
            continue
        for box in picture.boxes:
            assert box.x >= 0
            assert box.x + box.width <= picture.width
            assert box.y + box.height <= picture.height
        assert all(0 <= each.x <= picture.width for each in picture.words)
        assert ("°F" in picture.label) is fahrenheit
        assert "nan" not in repr(picture)
    told = profile.pause == "none" and (profile.development or profile.durations or profile.usual_duration)
    assert (days is not None) is bool(told)


def test_safe_bands_lie_in_order_of_temperature_and_a_stage_keeps_what_it_does_not_state() -> None:
    rows = stage_rows(PROFILES["python-regius"])
    # Its only stage changes the humidity alone.
    assert [(row.low_c, row.high_c) for row in rows] == [(30.0, 33.0), (30.0, 33.0)]
    safe = [
        box for box in limits_drawing(PROFILES["python-regius"], fahrenheit=False).boxes if box.style == "range-safe"
    ]
    [lethal] = [
        box for box in limits_drawing(PROFILES["python-regius"], fahrenheit=False).boxes if box.style == "range-lethal"
    ]
    assert all(box.x + box.width < lethal.x for box in safe)


def test_the_line_of_days_falls_with_warmth_as_the_pair_says() -> None:
    drawn = days_drawing(PROFILES["naja-atra"], fahrenheit=False)
    assert drawn is not None
    # K/(T - T0)/24 with T0 17.7 °C and K 13559 °C·h, by hand: 89.7 days at 24 °C, 45.9 at 30 °C.
    assert drawn.label == "Days from laying to hatching: 90 days at 24.0 °C, 46 days at 30.0 °C.".replace(
        " °C", "\N{NO-BREAK SPACE}°C"
    )


def test_a_fahrenheit_site_reads_fahrenheit_and_heat_stays_in_celsius() -> None:
    overview = replace(samples.overview(), fahrenheit=True)
    view = species_view(PROFILES["naja-atra"], "", overview, is_own=False)
    shown = {each.name: each.value for section in view.sections for each in section.figures}
    # 26 °C is 78.8 °F (NIST SP 811, 2008, B.8).
    assert shown["not below"] == "78.8\N{NO-BREAK SPACE}°F"
    assert shown["developmental zero T0"] == "17.7 °C"
    assert any("the profile itself" in line for line in view.lines)


def test_the_json_has_the_whole_profile_and_the_caution_first(house: UpkeptHouse) -> None:
    listed = house.look("/api/species").json()["species"]
    assert [each["id"] for each in listed] == sorted(PROFILES)
    answer = house.look("/api/species/naja-atra")
    assert answer.text.startswith('{"caution":"Venomous')
    found = answer.json()
    assert found["profile"]["temperature"]["low"] == {
        "value": 26.0,
        "source": PROFILES["naja-atra"].temperature.low.source,
    }
    assert found["is_own"] is False


@pytest.mark.parametrize("path", ["/set-up/species/none", "/set-up/species/none.toml", "/set-up/species/%3Cb%3E"])
def test_a_species_that_there_is_not_leads_back(house: UpkeptHouse, path: str) -> None:
    answer = house.look(path)
    assert answer.status_code == 404
    assert 'href="/set-up/species"' in answer.text
    assert house.look("/api/species/none").status_code == 404


def test_no_file_outside_of_the_profiles_can_be_asked_for(house: UpkeptHouse) -> None:
    for name in ("../site", "..%2Fsite", "....//site", "site"):
        answer = house.look(f"/set-up/species/{name}.toml")
        assert answer.status_code in (404, 307)
        assert "ana-secret-token" not in answer.text
