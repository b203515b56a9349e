"""What an unknown device seems to be, from what it sent."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import Quantity
from daemon.recent_messages import KEPT_OF_EACH, LARGEST_BYTES, MOST_TOPICS, RecentMessages
from daemon.take_up import MOST_VALUES, estimated_interval_s, leaves, named_values, suggested_id
from sensors.foreign import lookup, pointer_tokens

NOW_MS = 1_780_000_000_000


@pytest.mark.parametrize(
    ("record", "name", "quantity"),
    [
        # Units by RFC 8428 section 12.1.
        ({"n": "t", "u": "Cel", "v": 28.5}, "t", Quantity.AIR_TEMPERATURE),
        ({"n": "lid", "u": "Cel", "v": 28.5}, "lid", Quantity.SURFACE_TEMPERATURE),
        ({"n": "t", "u": "K", "v": 301}, "t", Quantity.AIR_TEMPERATURE),
        ({"n": "rh", "u": "%RH", "v": 80}, "rh", Quantity.RELATIVE_HUMIDITY),
        ({"n": "rh", "u": "/", "v": 0.8}, "rh", Quantity.RELATIVE_HUMIDITY),
        ({"n": "door", "u": "/", "v": 1}, "door", Quantity.DOOR),
        ({"n": "mains", "vb": True}, "mains", Quantity.MAINS),
        ({"n": "contact", "vb": False}, "contact", Quantity.DOOR),
        ({"bn": "urn:dev:ow:10e2073a01080063:", "n": "t", "u": "Cel", "v": 20}, "t", Quantity.AIR_TEMPERATURE),
        ({"n": "battery", "u": "V", "v": 3}, "battery", None),
        ({"n": "82", "v": 82}, "82", None),
    ],
)
def test_a_record_is_guessed_by_its_unit_and_never_by_the_size_of_its_value(
    record: dict[str, object], name: str, quantity: Quantity | None
) -> None:
    [found] = named_values([json.dumps([record]).encode()], NOW_MS)
    assert (found.name, found.quantity) == (name, quantity)


def test_names_of_several_messages_come_together_the_newest_value_first() -> None:
    packs = [b'[{"n":"t","u":"Cel","v":2}]', b"not SenML", b'[{"n":"t","u":"Cel","v":1},{"n":"rh","u":"%RH","v":3}]']
    assert [(each.name, each.shown) for each in named_values(packs, NOW_MS)] == [("t", "2 Cel"), ("rh", "3 %RH")]


def test_values_of_any_json_are_found_where_they_are() -> None:
    """RFC 6901 section 4: a slash in a name is ~1, a tilde ~0."""
    payload = b'{"a/b": {"temperature_F": 82.4, "m~n": "x"}, "list": [1, true, null, ""], "humidity": "81"}'
    found = {leaf.pointer: (leaf.shown, leaf.guess) for leaf in leaves(payload)}
    assert found == {
        "/a~1b/temperature_F": ("82.4", ("air_temperature", "degF")),
        "/a~1b/m~0n": ("x", ()),
        "/list/0": ("1", ()),
        "/list/1": ("true", ()),
        "/humidity": ("81", ("relative_humidity", "percent")),
    }


@pytest.mark.parametrize(
    ("payload", "unit"),
    [
        ('{"tempf": 88.2}', "degF"),
        ('{"tempF": 88.2}', "degF"),
        ('{"temperatureF": 88.2}', "degF"),
        ('{"temp_f": 88.2}', "degF"),
        ('{"temperature": 88, "unit": "F"}', "degF"),
        ('{"temp": 88, "t_unit": "°F"}', "degF"),
        ('{"temperature": 31, "temperature_unit": "celsius"}', "Cel"),
        ('{"tempC": 31}', "Cel"),
        ('{"temperature_c": 31}', "Cel"),
        # Nothing says which scale: nobody may find Celsius chosen already.
        ('{"temperature": 88}', None),
        ('{"temp": 31}', None),
        ('{"temperature": 88, "t_unit": "F", "h_unit": "C"}', None),
        ('{"temp_c_or_f": 31}', None),
        ('{"temperature": 88, "unit": "%"}', None),
        ('{"attempts": 3, "unit": "C"}', None),
        ('{"contempt_c": 3}', None),
    ],
)
def test_the_scale_of_a_temperature_is_guessed_where_something_says_it(payload: str, unit: str | None) -> None:
    [guess] = [leaf.guess for leaf in leaves(payload.encode()) if leaf.shown not in ("F", "°F", "C", "celsius", "%")]
    assert guess == (() if unit is None else ("air_temperature", unit))


def test_a_word_beside_a_temperature_is_no_temperature() -> None:
    assert [leaf.guess for leaf in leaves(b'{"temperature_unit": "C"}')] == [()]


@pytest.mark.parametrize(("payload", "shown"), [(b"23.4", ["23.4"]), (b" 23 ", ["23"]), (b"on", ["on"])])
def test_a_plain_value_is_its_own_place(payload: bytes, shown: list[str]) -> None:
    assert [(leaf.pointer, leaf.shown) for leaf in leaves(payload)] == [(None, each) for each in shown]


@pytest.mark.parametrize("payload", [b"", b"\xff\xfe", b"{", b"x" * 100, b"[" * 5000, b"[" * 900 + b"]" * 900, b"{}"])
def test_what_holds_no_value_gives_none(payload: bytes) -> None:
    assert len(leaves(payload)) <= 1
    assert all(leaf.pointer is None for leaf in leaves(payload))


JSON = st.recursive(
    st.none() | st.booleans() | st.floats(-1e6, 1e6) | st.text(max_size=8),
    lambda inside: st.lists(inside, max_size=4) | st.dictionaries(st.text(max_size=6), inside, max_size=4),
    max_leaves=40,
)


@given(JSON.filter(lambda each: isinstance(each, dict | list)))
def test_every_pointer_leads_to_what_is_shown(document: object) -> None:
    found = leaves(json.dumps(document).encode())
    assert len(found) <= MOST_VALUES
    for leaf in found:
        assert leaf.pointer is not None
        assert lookup(document, pointer_tokens(leaf.pointer)) not in (None, "")


@given(st.binary(max_size=200))
def test_no_payload_makes_it_fail(payload: bytes) -> None:
    leaves(payload)
    named_values([payload], NOW_MS)


@pytest.mark.parametrize(
    ("seconds", "interval_s"),
    [
        ([0, 60, 120, 180], 60),
        ([0, 61, 119, 181, 240], 60),
        ([0, 60, 120, 900, 960], 60),
        ([0, 10, 20, 20, 30], 10),
        ([0, 47, 94], 47),
        ([0, 60], 60),
        ([], 60),
    ],
)
def test_the_interval_is_the_middle_of_what_was_heard(seconds: list[int], interval_s: float) -> None:
    assert estimated_interval_s([NOW_MS + each * 1000 for each in seconds]) == interval_s


def test_an_id_is_made_of_what_the_topic_says_and_is_nobody_elses() -> None:
    assert suggested_id("hut/shelf 2/state", ()) == "shelf-2"
    assert suggested_id("hut/shelf/state", ("shelf", "shelf-2")) == "shelf-3"
    assert suggested_id("///", ()) == "probe"


def test_the_newest_messages_of_each_topic_are_kept_and_no_more() -> None:
    recent = RecentMessages()
    for number in range(3 * KEPT_OF_EACH):
        recent.heard("a", str(number).encode(), number)
    assert [each.payload for each in recent.of(lambda topic: topic == "a")] == [
        str(3 * KEPT_OF_EACH - 1 - number).encode() for number in range(KEPT_OF_EACH)
    ]
    recent.heard("a", b"x" * (LARGEST_BYTES + 1), 1_000, "too large")
    assert recent.of(lambda _: True)[0] == ("a", 1_000, b"x" * LARGEST_BYTES, "too large")


def test_of_too_many_topics_the_one_that_was_silent_longest_goes() -> None:
    recent = RecentMessages()
    for number in range(MOST_TOPICS):
        recent.heard(f"topic/{number}", b"1", number)
    recent.heard("topic/0", b"2", 1_000)
    recent.heard("new", b"3", 1_001)
    assert recent.of(lambda topic: topic == "topic/1") == ()
    assert len(recent.of(lambda topic: topic == "topic/0")) == 2
    assert recent.of(lambda topic: topic == "new")[0].payload == b"3"
