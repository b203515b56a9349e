"""Contacts of mains and doors: what a device may send, what is refused, and that a steady one is never suspect."""

import json
from functools import partial
from typing import cast

import pytest

from config.model import ChannelSpec, Incubator, Probe, Site, Source
from config.words import Quantity, contact_text
from sensors.calibration import stated_of
from sensors.decoder import Decoder
from sensors.feed import Command, Feed
from sensors.plausibility import Memory, judge
from sensors.publisher import senml_pack
from sensors.reading import Accepted, Outcome, Quality, Rejection
from sensors.simulation.world import SimulatedSite
from tests.sensors.test_simulated_site import SENT, Collector, FakeTime

NOW_MS = 1_780_000_000_000
MINUTE_MS = 60_000
DAY_MS = 86_400_000
AIR = ChannelSpec(name="t", quantity=Quantity.AIR_TEMPERATURE)
MAINS = ChannelSpec(name="mains", quantity=Quantity.MAINS)
DOOR = ChannelSpec(name="door", quantity=Quantity.DOOR)


def device(probe_id: str, channel: ChannelSpec, unit: str, pointer: str | None = None, place: str = "north") -> Probe:
    source = Source(topic=f"{probe_id}/state", channel=channel.name, pointer=pointer, unit=unit)
    return Probe(id=probe_id, place=place, interval_s=60, channels=(channel,), sources=(source,))


SITE = Site(
    name="Barn",
    time_zone="UTC",
    incubators=(Incubator(id="north", name="North cabinet"), Incubator(id="south", name="South cabinet")),
    probes=(
        Probe(id="board", place="north", interval_s=60, channels=(AIR, MAINS, DOOR)),
        device("flap", DOOR, "/", place="south"),
        device("reed", DOOR, "inverted", "/contact", place="south"),
        device("plug", MAINS, "/", "/state", place="room"),
    ),
)


def sent(payload: str, topic: str = "clutchwarden/board/measure") -> dict[str, float] | Rejection:
    decoded = Decoder(SITE).decode(topic, payload.encode(), False, NOW_MS)
    if isinstance(decoded, Rejection):
        return decoded
    assert isinstance(decoded, Accepted)
    assert not decoded.suspicions
    return {reading.channel: reading.value for reading in decoded.readings}


@pytest.mark.parametrize(
    ("record", "value"),
    [
        ('"vb":true', 1.0),
        ('"vb":false', 0.0),
        ('"v":1', 1.0),
        ('"v":0', 0.0),
        # RFC 8428 section 12.1: the unit "/" is also that of a switch.
        ('"u":"/","v":1', 1.0),
        ('"u":"/","v":0.0', 0.0),
        ('"u":"Cel","vb":true', 1.0),  # a unit says nothing of a truth value; a base unit is often in force
    ],
)
def test_a_contact_speaks_senml_as_a_truth_value_or_as_a_number(record: str, value: float) -> None:
    assert sent(f'[{{"n":"door",{record}}}]') == {"board/door": value}


def test_a_contact_comes_in_one_pack_with_a_temperature() -> None:
    pack = '[{"bt":1780000000,"n":"t","u":"Cel","v":28.4},{"n":"mains","vb":false},{"n":"door","u":"/","v":1}]'
    assert sent(pack) == {"board/t": 28.4, "board/mains": 0.0, "board/door": 1.0}


@pytest.mark.parametrize(
    ("record", "outcome", "words"),
    [
        ('"v":0.5', Outcome.MALFORMED, "0.5 is no state of a contact; send 1 or true for open, 0 or false for closed"),
        ('"v":2', Outcome.MALFORMED, "2 is no state of a contact"),
        ('"v":-1', Outcome.MALFORMED, "-1 is no state of a contact"),
        ('"vs":"open"', Outcome.MALFORMED, "no value is no state of a contact"),
        ('"u":"Cel","v":1', Outcome.WRONG_UNIT, "'Cel' is no unit of a contact; send vb, or v with u as /"),
        ('"u":"%RH","v":1', Outcome.WRONG_UNIT, "is no unit of a contact"),
    ],
)
def test_whatever_is_no_state_is_refused_in_words(record: str, outcome: Outcome, words: str) -> None:
    refused = sent(f'[{{"n":"door",{record}}}]')
    assert isinstance(refused, Rejection)
    assert refused.outcome is outcome
    assert words in refused.reason
    assert "channel door" in refused.reason


def test_a_temperature_is_still_no_truth_value_and_needs_its_unit() -> None:
    for record in ('"vb":true', '"v":1', '"u":"/","v":1'):
        assert isinstance(sent(f'[{{"n":"t",{record}}}]'), Rejection)


@pytest.mark.parametrize("said", ["1", "on", "ON", "true", "True", " 1.0\n", "open", "Open"])
def test_a_plain_word_or_number_says_open(said: str) -> None:
    assert sent(said, "flap/state") == {"flap/door": 1.0}


@pytest.mark.parametrize("said", ["0", "off", "OFF", "false", "closed"])
def test_a_plain_word_or_number_says_closed(said: str) -> None:
    assert sent(said, "flap/state") == {"flap/door": 0.0}


@pytest.mark.parametrize(("said", "value"), [("true", 0.0), ("false", 1.0), ('"on"', 0.0), ("0", 1.0), ("1", 0.0)])
def test_a_device_that_says_it_the_other_way_round_is_turned(said: str, value: float) -> None:
    assert sent(f'{{"contact": {said}}}', "reed/state") == {"reed/door": value}


@pytest.mark.parametrize(("said", "value"), [('"open"', 1.0), ('"closed"', 0.0)])
def test_a_word_that_says_open_means_open_whichever_way_round_the_device_counts(said: str, value: float) -> None:
    assert sent(f'{{"contact": {said}}}', "reed/state") == {"reed/door": value}


@pytest.mark.parametrize("said", ["0.4", "2", '"open"', '"ajar"', "[1]", '{"a":1}', '""'])
def test_a_foreign_value_that_is_no_state_is_refused_in_words(said: str) -> None:
    """Open and closed are words of a door; of the mains they would mean the switch, and nobody knows which way."""
    refused = sent(f'{{"state": {said}}}', "plug/state")
    assert isinstance(refused, Rejection)
    assert refused.outcome is Outcome.MALFORMED
    assert "is no state of a contact; send 1 or true for present, 0 or false for absent" in refused.reason


def test_a_pointer_to_nothing_is_no_news() -> None:
    refused = sent('{"other": 1}', "plug/state")
    assert isinstance(refused, Rejection)
    assert refused.outcome is Outcome.UNKNOWN_CHANNEL


@pytest.mark.parametrize("quantity", [Quantity.MAINS, Quantity.DOOR])
@pytest.mark.parametrize("value", [0.0, 1.0])
def test_a_contact_that_says_the_same_for_days_is_not_stuck(quantity: Quantity, value: float) -> None:
    memory: Memory | None = None
    for minute in range(3 * 24 * 60):
        quality, memory, reason = judge(memory, quantity, value, NOW_MS + minute * MINUTE_MS)
        assert (quality, reason) == (Quality.GOOD, "")


@pytest.mark.parametrize("quantity", [Quantity.MAINS, Quantity.DOOR])
def test_a_contact_that_flips_each_second_is_neither_too_fast_nor_faulty(quantity: Quantity) -> None:
    memory: Memory | None = None
    for second in range(100):
        quality, memory, _ = judge(memory, quantity, float(second % 2), NOW_MS + second * 1000)
        assert quality is Quality.GOOD


@pytest.mark.parametrize("value", [0.5, -1.0, 2.0, float("nan"), float("inf")])
def test_the_judge_believes_no_other_value_and_goes_on_from_what_it_believed(value: float) -> None:
    _, before, _ = judge(None, Quantity.MAINS, 1.0, NOW_MS)
    quality, memory, reason = judge(before, Quantity.MAINS, value, NOW_MS + 1000)
    assert quality is Quality.OUT_OF_RANGE
    assert "is no state of a contact" in reason
    assert (memory.good_ms, memory.good_value) == (NOW_MS, 1.0)
    assert judge(memory, Quantity.MAINS, 0.0, NOW_MS + 2000)[0] is Quality.GOOD


def test_a_late_reading_of_a_contact_changes_nothing() -> None:
    _, before, _ = judge(None, Quantity.DOOR, 1.0, NOW_MS)
    assert judge(before, Quantity.DOOR, 0.0, NOW_MS - 1000) == (Quality.GOOD, before, "")


def test_contacts_have_no_accuracy_and_are_not_calibrated() -> None:
    assert set(stated_of(SITE)) == {"board/t"}


def test_what_a_contact_says_is_put_into_words() -> None:
    said = [contact_text(quantity, value) for quantity in (Quantity.MAINS, Quantity.DOOR) for value in (0.0, 1.0)]
    assert said == ["mains absent", "mains present", "door closed", "door open"]


def test_a_simulated_contact_follows_mains_and_door_of_its_incubator_and_the_site_understands_it() -> None:
    """Commands at minutes 10 and 20 of half an hour at one reading a minute: ten minutes each of the other state."""
    clock, everything = FakeTime(rate=1.0), cast("SENT", [])
    world = SimulatedSite(SITE, NOW_MS, seed=3)
    feed = Feed(SITE, world, lambda probe: Collector(probe, everything), clock.now_ms, rate=1.0)

    def order(minute: int, *commands: Command) -> None:
        for command in commands:
            clock.planned.append((NOW_MS + minute * MINUTE_MS, partial(feed.command, "north", command)))

    order(10, Command.MAINS_LOST, Command.DOOR_OPENED)
    order(20, Command.MAINS_RESTORED, Command.DOOR_CLOSED)
    feed.run(clock, duration_s=30 * 60)
    decoder = Decoder(SITE)
    found: dict[str, list[float]] = {}
    for probe, at_ms, values in everything:
        decoded = decoder.decode(f"clutchwarden/{probe}/measure", senml_pack(at_ms, values), False, at_ms)
        assert isinstance(decoded, Accepted), decoded
        for reading in decoded.readings:
            found.setdefault(reading.channel, []).append(reading.value)
    assert found["board/mains"] == [1.0] * 10 + [0.0] * 10 + [1.0] * 10
    assert found["board/door"] == [0.0] * 10 + [1.0] * 10 + [0.0] * 10
    # The room's contact is on the mains of the first incubator; the south cabinet was left alone.
    assert found["plug/mains"] == found["board/mains"]
    assert found["flap/door"] == [0.0] * 30


def test_a_pack_of_a_contact_has_the_unit_of_a_switch() -> None:
    assert json.loads(senml_pack(NOW_MS, {"door": (1.0, "/")})) == [{"bt": 1.78e9, "n": "door", "u": "/", "v": 1.0}]


def test_contacts_disturb_no_other_reading_of_a_simulated_probe() -> None:
    plain = Probe(id="board", place="north", interval_s=60, channels=(AIR,))
    with_contacts, without = (
        [
            values["t"]
            for _, probe, values in SimulatedSite(
                SITE.model_copy(update={"probes": (probe,)}), NOW_MS, seed=5
            ).readings(NOW_MS + DAY_MS, every_s=600)
            if probe == "board"
        ]
        for probe in (SITE.probes[0], plain)
    )
    assert with_contacts == without
