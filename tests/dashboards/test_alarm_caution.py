"""What whoever answers an alarm must know of the animals in reach: first on every page and in every message of it."""

import re
from dataclasses import replace

import pytest

from daemon.clutches import register
from daemon.rounds.cautions import VENOMOUS
from dashboards.alarm_paths import alarm_path
from tests.dashboards.asking import ask
from tests.dashboards.test_alarm_pages import words
from tests.support.called import HIGH, CalledHouse
from tests.support.household import DAY_MS, a_clutch

DANGEROUS = "Dangerous animals inside."
OF_SPECIES = {"crocodylus-palustris": DANGEROUS, "naja-atra": f"{VENOMOUS}."}


def with_one(house: CalledHouse, species_id: str) -> None:
    """Let it lie in the cabinet beside the harmless one, and let the cabinet become too warm."""
    other = replace(a_clutch(house.now_ms - DAY_MS, "Other", "north/upper"), species_id=species_id)
    house.journal.write(lambda conn: register.add_clutch(conn, other, "test", house.now_ms))
    house.minutes(5, 28.0)
    house.minutes(20, 31.0)


@pytest.mark.parametrize("species_id", list(OF_SPECIES))
def test_the_card_of_the_first_page_says_it_before_everything_else_with_a_shape(
    house: CalledHouse, species_id: str
) -> None:
    with_one(house, species_id)
    page = ask(house.app, "/").text
    [banner] = re.findall(r'<section class="banner.*?</section>', page, re.DOTALL)
    assert words(banner).startswith(f"{OF_SPECIES[species_id]} Your written protocol first, never alone.")
    assert banner.index("#shape-caution") < banner.index(OF_SPECIES[species_id]) < banner.index("banner-word")
    for path in ("/alarms", alarm_path(HIGH), house.link()):
        told = ask(house.app, path).text
        assert told.index(OF_SPECIES[species_id]) < told.lower().index("too warm", told.index("</head>")), path


@pytest.mark.parametrize("species_id", list(OF_SPECIES))
def test_an_alarm_further_down_says_it_in_what_is_seen_without_a_touch(house: CalledHouse, species_id: str) -> None:
    with_one(house, species_id)
    house.minutes(20, 41.0)
    heads = re.findall(r"<summary id=\"alarm-temperature.*?</summary>", ask(house.app, "/").text, re.DOTALL)
    assert heads
    assert all(words(head).startswith(OF_SPECIES[species_id]) for head in heads)
    [told] = [each for each in ask(house.app, "/api/overview").json()["incubators"] if each["alarms"]]
    assert {each["caution"] for each in told["alarms"]} == {
        f"{OF_SPECIES[species_id]} Your written protocol first, never alone"
    }


@pytest.mark.parametrize("species_id", list(OF_SPECIES))
def test_every_message_that_sends_somebody_begins_with_it(house: CalledHouse, species_id: str) -> None:
    with_one(house, species_id)
    bodies = [each.body for each in house.messages()]
    assert bodies
    assert all(body.startswith(f"{OF_SPECIES[species_id]}\n") for body in bodies)


def test_of_harmless_animals_nothing_is_said(drifted: CalledHouse) -> None:
    for path in ("/", "/alarms", alarm_path(HIGH)):
        page = ask(drifted.app, path).text
        assert DANGEROUS not in page
        assert '"caution' not in page
    assert not [each for each in drifted.messages() if DANGEROUS in each.body]
