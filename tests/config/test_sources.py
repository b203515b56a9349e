"""Topic filters against paho's own matching, pointers against the examples of RFC 6901."""

from itertools import product

import pytest
from paho.mqtt.client import topic_matches_sub

from config.site import ChannelSpec, Probe, Site, Source
from config.sources import filters_overlap, is_topic_filter, source_mistakes
from config.words import Quantity

FILTERS = [
    "/".join(levels)
    for length in (1, 2, 3)
    for levels in product(("a", "$b", "+", "#"), repeat=length)
    if "#" not in levels[:-1]
]
TOPICS = ["/".join(levels) for length in (1, 2, 3, 4) for levels in product(("a", "$b", "c"), repeat=length)]


def test_two_filters_overlap_exactly_where_paho_finds_a_topic_that_matches_both() -> None:
    matched = {one: {topic for topic in TOPICS if topic_matches_sub(one, topic)} for one in FILTERS}
    for first, second in product(FILTERS, repeat=2):
        assert filters_overlap(first, second) == bool(matched[first] & matched[second]), (first, second)


@pytest.mark.parametrize(
    ("topic", "valid"),
    [
        # MQTT 5.0 clauses 4.7.1.2 and 4.7.1.3: the examples of the standard.
        ("sport/tennis/player1/#", True),
        ("sport/#", True),
        ("#", True),
        ("sport/tennis/#", True),
        ("sport/tennis#", False),
        ("sport/tennis/#/ranking", False),
        ("+", True),
        ("+/tennis/#", True),
        ("sport+", False),
        ("sport/+/player1", True),
        # Clause 4.7.3: at least one character, no null character.
        ("", False),
        ("sport\0", False),
    ],
)
def test_topic_filters_are_those_of_the_standard(topic: str, valid: bool) -> None:
    assert is_topic_filter(topic) is valid


def keys_of(source: Source) -> list[str]:
    channels = (ChannelSpec(name="t", quantity=Quantity.AIR_TEMPERATURE),)
    probe = Probe(id="air", place="north", channels=channels, sources=(source,))
    site = Site(name="x", time_zone="UTC", probes=(probe,))
    return [one.key.rsplit(".", 1)[1] for one in source_mistakes(site, channels_known=True)]


@pytest.mark.parametrize(
    "pointer", ["", "/foo", "/foo/0", "/", "/a~1b", "/c%d", "/e^f", "/g|h", "/i\\j", '/k"l', "/ ", "/m~0n"]
)
def test_the_pointers_of_rfc_6901_section_5_are_accepted(pointer: str) -> None:
    assert keys_of(Source(topic="a", channel="t", pointer=pointer, unit="Cel")) == []


@pytest.mark.parametrize("pointer", ["foo", "/~", "/a~2", "#/foo", "$.foo"])
def test_texts_that_are_no_pointers_by_rfc_6901_section_3_are_a_mistake(pointer: str) -> None:
    assert keys_of(Source(topic="a", channel="t", pointer=pointer, unit="Cel")) == ["pointer"]


def test_a_plain_number_has_no_time_in_it() -> None:
    source = Source(topic="a", channel="t", unit="Cel", time_pointer="/at", time_format="unix")
    assert keys_of(source) == ["time_pointer"]


def test_a_shared_subscription_is_refused_because_it_would_split_the_readings() -> None:
    assert keys_of(Source(topic="$share/group/a", channel="t", unit="Cel")) == ["topic"]


@pytest.mark.parametrize("unit", ["Cel", "degC", "degF", "K"])
def test_units_of_temperature_are_accepted(unit: str) -> None:
    assert keys_of(Source(topic="a", channel="t", unit=unit)) == []


@pytest.mark.parametrize("unit", ["%RH", "cel", "C", "°C", "F"])
def test_other_units_of_a_temperature_are_a_mistake(unit: str) -> None:
    assert keys_of(Source(topic="a", channel="t", unit=unit)) == ["unit"]
