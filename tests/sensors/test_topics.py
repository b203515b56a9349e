"""Topic filters by MQTT Version 5.0 (OASIS Standard), clause 4.7, and our own topics."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from sensors.topics import own_filters, parse_own_topic, topic_matches

steady = settings(derandomize=True, deadline=None)
MATCHING = [
    ("north/air/t", "north/air/t", "4.7.3: equal character by character"),
    ("north/#", "north/air/t", "4.7.1.2: any number of levels"),
    ("north/#", "north", "4.7.1.2: the parent level too"),
    ("north/#", "north/", "4.7.1.2: an empty level below"),
    ("#", "north/air/t", "4.7.1.2: alone"),
    ("north/+/t", "north/air/t", "4.7.1.3: exactly one level"),
    ("+/+/t", "north/air/t", "4.7.1.3: at the first level"),
    ("north/+", "north/air", "4.7.1.3: at the last level"),
    ("north/+", "north/", "4.7.1.3: an empty level is a level"),
    ("+/+", "/north", "4.7.1.3: the empty level before a leading slash"),
    ("/+", "/north", "4.7.1.3"),
    ("+/air/#", "north/air", "4.7.1.2 and 4.7.1.3 together, with the parent"),
    ("$SYS/#", "$SYS/broker/uptime", "4.7.2: the filter itself begins with $"),
    ("$SYS/+", "$SYS/broker", "4.7.2"),
    ("north/$air", "north/$air", "4.7.2: only the first character of the topic counts"),
    ("north/+", "north/$air", "4.7.2: only the first character of the topic counts"),
    ("nord süd/ä", "nord süd/ä", "4.7.3: spaces and other letters are plain characters"),
]
NOT_MATCHING = [
    ("north/air/t", "north/air/T", "4.7.3: case counts"),
    ("north/air", "/north/air", "4.7.3: a leading slash makes another topic"),
    ("north/air", "north/air/", "4.7.3: a trailing slash makes another topic"),
    ("north/air", "north/air/t", "4.7.1.1: fewer levels"),
    ("north/air/t", "north/air", "4.7.1.1: more levels"),
    ("north/+", "north", "4.7.1.3: + needs a level"),
    ("north/+", "north/air/t", "4.7.1.3: + takes one level only"),
    ("+", "/north", "4.7.1.3: two levels, the first empty"),
    ("+", "north/air", "4.7.1.3"),
    ("north/#", "northern/air", "4.7.1.2: a whole level"),
    ("north/air/#", "north", "4.7.1.2: the parent, not the grandparent"),
    ("#", "$SYS/broker/uptime", "4.7.2"),
    ("+/broker/uptime", "$SYS/broker/uptime", "4.7.2"),
    ("+", "$SYS", "4.7.2"),
    ("north#", "north#", "4.7.1.2: # must stand alone"),
    ("north/#/t", "north/air/t", "4.7.1.2: # must be last"),
    ("north+", "north1", "4.7.1.3: + must stand alone"),
    ("north/+t", "north/at", "4.7.1.3: + must stand alone"),
    ("north/+", "north/+", "4.7.1: no wildcard in a topic name"),
    ("", "north", "4.7.3: at least one character"),
    ("#", "", "4.7.3: at least one character"),
    ("north\0", "north\0", "4.7.3: no null character"),
]
LEVELS = st.lists(st.sampled_from(["a", "b", "", "+", "$x"]), min_size=1, max_size=4)
NAMES = st.lists(st.sampled_from(["a", "b", "", "$x"]), min_size=1, max_size=4).map("/".join).filter(bool)


@pytest.mark.parametrize(("topic_filter", "topic", "clause"), MATCHING)
def test_a_filter_takes_the_topics_that_the_standard_gives_it(topic_filter: str, topic: str, clause: str) -> None:
    assert topic_matches(topic_filter, topic), clause


@pytest.mark.parametrize(("topic_filter", "topic", "clause"), NOT_MATCHING)
def test_a_filter_leaves_the_topics_that_the_standard_denies_it(topic_filter: str, topic: str, clause: str) -> None:
    assert not topic_matches(topic_filter, topic), clause


@steady
@given(LEVELS, st.booleans(), NAMES)
def test_matching_agrees_with_the_client_library(levels: list[str], rest: bool, topic: str) -> None:
    # An implementation that is not ours: paho-mqtt's topic_matches_sub.
    topic_filter = "/".join([*levels, "#"] if rest else levels)
    if topic_filter:
        assert topic_matches(topic_filter, topic) == topic_matches_sub(topic_filter, topic)


@steady
@given(st.text(), st.text())
def test_any_two_strings_get_an_answer(topic_filter: str, topic: str) -> None:
    assert topic_matches(topic_filter, topic) in (True, False)


@pytest.mark.parametrize(
    ("prefix", "topic", "expected"),
    [
        ("clutchwarden", "clutchwarden/north-air/measure", ("north-air", "measure")),
        ("clutchwarden", "clutchwarden/north-air/status", ("north-air", "status")),
        ("clutchwarden", "clutchwarden/north-air/agent", ("north-air", "agent")),
        ("reptiles/eggs", "reptiles/eggs/north-air/measure", ("north-air", "measure")),
        ("clutchwarden", "clutchwarden/north-air/other", None),
        ("clutchwarden", "clutchwarden/north-air", None),
        ("clutchwarden", "clutchwarden//measure", None),
        ("clutchwarden", "clutchwarden/north/air/measure", None),
        ("clutchwarden", "clutchwarden/north-air/measure/", None),
        ("clutchwarden", "clutchwardens/north-air/measure", None),
        ("clutchwarden", "Clutchwarden/north-air/measure", None),
        ("clutchwarden", "clutchwarden", None),
        ("clutchwarden", "", None),
    ],
)
def test_our_own_topics_are_told_apart(prefix: str, topic: str, expected: tuple[str, str] | None) -> None:
    assert parse_own_topic(prefix, topic) == expected


def test_our_own_filters_cover_our_own_topics() -> None:
    measure, status, agent = own_filters("reptiles/eggs")
    assert topic_matches(measure, "reptiles/eggs/north-air/measure")
    assert topic_matches(status, "reptiles/eggs/north-air/status")
    assert topic_matches(agent, "reptiles/eggs/north-air/agent")
