"""From a message to readings, and every message to exactly one outcome."""

import pytest

from config.words import Quantity
from sensors.decoder import Decoder
from sensors.reading import Accepted, ChannelKey, Decoded, Outcome, Quality, Reading, Rejection, StatusChange
from tests.sensors.example_site import SITE

NOW_MS = 1_780_000_000_000
NOW_S = 1_780_000_000
MEASURE = "clutchwarden/north-air/measure"
STATUS = "clutchwarden/north-air/status"


@pytest.fixture
def decoder() -> Decoder:
    return Decoder(SITE)


def decode(decoder: Decoder, payload: str, topic: str = MEASURE, *, retained: bool = False) -> Decoded:
    return decoder.decode(topic, payload.encode(), retained, NOW_MS)


def rejected(decoded: Decoded) -> Outcome:
    assert isinstance(decoded, Rejection), decoded
    assert decoded.outcome.is_rejected
    assert 0 < len(decoded.reason.encode()) < 500, "storable as UTF-8, and readable"
    return decoded.outcome


def accepted(decoded: Decoded) -> Accepted:
    assert isinstance(decoded, Accepted), decoded
    return decoded


def test_the_channels_of_all_probes_are_known(decoder: Decoder) -> None:
    assert set(decoder.channels) == {
        "north-air/t",
        "north-air/rh",
        "north-air/lid",
        "gateway/t",
        "gateway/rh",
        "floor/t",
    }
    expected = ChannelKey("north-air/lid", "north-air", "lid", Quantity.SURFACE_TEMPERATURE)
    assert decoder.channels["north-air/lid"] == expected


def test_the_subscriptions_hold_our_own_topics_and_each_source_once(decoder: Decoder) -> None:
    expected = ("clutchwarden/+/measure", "clutchwarden/+/status", "clutchwarden/+/agent", "room/+/state", "floor/t")
    assert decoder.subscriptions == expected


def test_a_prefix_of_ones_own_moves_our_topics() -> None:
    moved = Decoder(SITE, prefix="reptiles/eggs")
    assert moved.subscriptions[:2] == ("reptiles/eggs/+/measure", "reptiles/eggs/+/status")
    assert (
        accepted(decode(moved, '[{"n":"t","u":"Cel","v":30}]', "reptiles/eggs/north-air/measure")).probe == "north-air"
    )
    assert rejected(decode(moved, '[{"n":"t","u":"Cel","v":30}]')) is Outcome.UNKNOWN_PROBE


def test_a_pack_becomes_readings_in_order_of_time(decoder: Decoder) -> None:
    pack = (
        f'[{{"bn":"urn:dev:ow:28ff641e0f165e:","bt":{NOW_S - 30},"bu":"Cel","n":"t","v":30.2}},{{"n":"lid","v":27.9}},'
        '{"n":"rh","u":"%RH","v":84.6},{"n":"t","t":-60,"v":30.1}]'
    )
    assert decode(decoder, pack) == Accepted(
        "north-air",
        (
            Reading("north-air/t", NOW_MS - 90_000, NOW_MS, 30.1, 0),
            Reading("north-air/t", NOW_MS - 30_000, NOW_MS, 30.2, 0),
            Reading("north-air/lid", NOW_MS - 30_000, NOW_MS, 27.9, 0),
            Reading("north-air/rh", NOW_MS - 30_000, NOW_MS, 84.6, 0),
        ),
    )


@pytest.mark.parametrize(
    "name", ["t", "north-air:t", "urn:dev:ow:28ff641e0f165e3c:t", "shelf/upper/t", "urn:dev:mac:00-11/air/t"]
)
def test_a_record_is_known_by_the_last_part_of_its_name(decoder: Decoder, name: str) -> None:
    (reading,) = accepted(decode(decoder, f'[{{"n":"{name}","u":"Cel","v":30}}]')).readings
    assert reading == Reading("north-air/t", NOW_MS, NOW_MS, 30.0, 0)


@pytest.mark.parametrize("name", ["T", "t1", "air.t", "air_t", "air-t", "t:x", "t/x", "t/", "t:"])
def test_a_name_that_only_resembles_a_channel_is_unknown(decoder: Decoder, name: str) -> None:
    assert rejected(decode(decoder, f'[{{"n":"{name}","u":"Cel","v":30}}]')) is Outcome.UNKNOWN_CHANNEL


def test_undeclared_names_beside_a_declared_one_are_passed_over(decoder: Decoder) -> None:
    pack = '[{"n":"battery","u":"V","v":3.1},{"n":"t","u":"Cel","v":30},{"n":"door","vb":false},{"n":"id","vs":"x"}]'
    assert [one.channel for one in accepted(decode(decoder, pack)).readings] == ["north-air/t"]


def test_undeclared_names_alone_are_refused_with_both_lists(decoder: Decoder) -> None:
    refused = decode(decoder, '[{"n":"temp","u":"Cel","v":30}]')
    assert rejected(refused) is Outcome.UNKNOWN_CHANNEL
    assert isinstance(refused, Rejection)
    assert "'temp'" in refused.reason
    assert "lid, rh, t" in refused.reason


@pytest.mark.parametrize(
    ("topic", "payload", "outcome"),
    [
        ("clutchwarden/south/measure", '[{"n":"t","u":"Cel","v":30}]', Outcome.UNKNOWN_PROBE),
        ("clutchwarden/south/status", "online", Outcome.UNKNOWN_PROBE),
        ("clutchwarden/north-air/other", "x", Outcome.UNKNOWN_PROBE),
        ("room/1/2/state", '{"temperature":86}', Outcome.UNKNOWN_PROBE),
        ("\ud800", "x", Outcome.UNKNOWN_PROBE),
        ("", "x", Outcome.UNKNOWN_PROBE),
        (MEASURE, "", Outcome.MALFORMED),
        (MEASURE, "30.2", Outcome.MALFORMED),
        (MEASURE, '[{"bn":"a:"}]', Outcome.MALFORMED),
        (MEASURE, '[{"n":"t","u":"Cel","v":30},{"n":"rh"}]', Outcome.MALFORMED),
        (MEASURE, '[{"n":"a/t","u":"Cel","v":30},{"n":"b/t","u":"Cel","v":31}]', Outcome.MALFORMED),
        (MEASURE, '[{"n":"t","u":"Cel","v":NaN}]', Outcome.NOT_A_NUMBER),
        (MEASURE, '[{"n":"t","u":"Cel","vs":"30"}]', Outcome.NOT_A_NUMBER),
        (MEASURE, '[{"n":"t","u":"Cel","vb":true}]', Outcome.NOT_A_NUMBER),
        (MEASURE, '[{"n":"t","u":"Cel","s":3000}]', Outcome.NOT_A_NUMBER),
        (MEASURE, '[{"n":"rh","u":"/","v":1e308}]', Outcome.NOT_A_NUMBER),
        (MEASURE, '[{"n":"t","v":30}]', Outcome.WRONG_UNIT),
        (MEASURE, '[{"n":"t","u":"cel","v":30}]', Outcome.WRONG_UNIT),
        (MEASURE, '[{"n":"t","u":"degF","v":86}]', Outcome.WRONG_UNIT),
        (MEASURE, '[{"n":"t","u":"%RH","v":30}]', Outcome.WRONG_UNIT),
        (MEASURE, '[{"n":"rh","u":"%","v":84.6}]', Outcome.WRONG_UNIT),
        (MEASURE, '[{"n":"t","u":"\\ud800","v":30}]', Outcome.WRONG_UNIT),
        (MEASURE, f'[{{"n":"t","u":"Cel","v":30,"t":{NOW_S + 121}}}]', Outcome.FUTURE_DATED),
        (MEASURE, f'[{{"n":"t","u":"Cel","v":30,"t":{NOW_S * 1000}}}]', Outcome.FUTURE_DATED),
        (MEASURE, '[{"n":"t","u":"Cel","v":30,"t":900000000}]', Outcome.MALFORMED),
        (MEASURE, '[{"n":"t","u":"Cel","v":30,"bt":268435400,"t":100}]', Outcome.MALFORMED),
        (STATUS, "Online", Outcome.MALFORMED),
        (STATUS, "", Outcome.MALFORMED),
        (STATUS, '"online"', Outcome.MALFORMED),
        ("floor/t", "unavailable", Outcome.NOT_A_NUMBER),
        ("room/1/state", "{}", Outcome.UNKNOWN_CHANNEL),
    ],
)
def test_what_cannot_be_used_has_its_own_outcome(decoder: Decoder, topic: str, payload: str, outcome: Outcome) -> None:
    assert rejected(decode(decoder, payload, topic)) is outcome


def test_the_size_limit_is_the_last_size_allowed() -> None:
    small = Decoder(SITE, largest_payload_bytes=28)
    payload = '[{"n":"t","u":"Cel","v":30}]'
    assert len(payload) == 28
    accepted(decode(small, payload))
    assert rejected(decode(small, payload + " ")) is Outcome.OVERSIZED


@pytest.mark.parametrize(("payload", "online"), [("online", True), ("offline", False)])
@pytest.mark.parametrize("retained", [True, False])
def test_a_status_is_understood_also_when_retained(
    decoder: Decoder, payload: str, online: bool, retained: bool
) -> None:
    expected = StatusChange("north-air", online, NOW_MS)
    assert decode(decoder, payload, STATUS, retained=retained) == expected


@pytest.mark.parametrize(
    "payload",
    [
        '[{"n":"t","u":"Cel","v":30}]',
        '[{"n":"t","u":"Cel","v":30,"t":-5}]',  # relative: nobody knows relative to when
        f'[{{"n":"t","u":"Cel","v":30,"t":{NOW_S - 601}}}]',
    ],
)
def test_a_retained_measurement_without_a_fresh_time_is_refused(decoder: Decoder, payload: str) -> None:
    assert rejected(decode(decoder, payload, retained=True)) is Outcome.RETAINED_STALE


def test_a_retained_measurement_with_a_fresh_time_is_taken(decoder: Decoder) -> None:
    accepted(decode(decoder, f'[{{"n":"t","u":"Cel","v":30,"t":{NOW_S - 600}}}]', retained=True))


def test_a_retained_foreign_number_is_refused(decoder: Decoder) -> None:
    assert rejected(decode(decoder, "300", "floor/t", retained=True)) is Outcome.RETAINED_STALE


def test_the_future_tolerance_is_the_stated_one() -> None:
    payload = f'[{{"n":"t","u":"Cel","v":30,"t":{NOW_S + 10}}}]'
    assert rejected(decode(Decoder(SITE, future_tolerance_s=9), payload)) is Outcome.FUTURE_DATED
    accepted(decode(Decoder(SITE, future_tolerance_s=10), payload))


def test_a_foreign_message_feeds_every_source_of_its_topic(decoder: Decoder) -> None:
    payload = '{"temperature":"86.0","humidity":84.6}'
    assert decode(decoder, payload, "room/shelf/state") == Accepted(
        "gateway",
        (
            Reading("gateway/t", NOW_MS, NOW_MS, 30.0, 0),  # NIST SP 811 (2008) B.8: 86 °F
            Reading("gateway/rh", NOW_MS, NOW_MS, 84.6, 0),
        ),
    )


def test_a_foreign_plain_number_is_scaled(decoder: Decoder) -> None:
    (reading,) = accepted(decode(decoder, "302", "floor/t")).readings
    assert reading.value == pytest.approx(30.2)


def test_fahrenheit_under_a_celsius_unit_is_kept_as_said_and_explained(decoder: Decoder) -> None:
    understood = accepted(decode(decoder, '[{"n":"t","u":"Cel","v":82}]'))
    assert understood.readings == (Reading("north-air/t", NOW_MS, NOW_MS, 82.0, int(Quality.OUT_OF_RANGE)),)
    (sentence,) = understood.suspicions
    assert sentence.startswith("north-air/t: ")
    assert "looks like °F" in sentence


def test_each_channel_is_judged_by_its_own_past(decoder: Decoder) -> None:
    for minute in range(3):
        moment_ms = NOW_MS + minute * 60_000
        pack = b'[{"n":"t","u":"Cel","v":28},{"n":"lid","u":"Cel","v":20}]'
        for reading in accepted(decoder.decode(MEASURE, pack, False, moment_ms)).readings:
            assert reading.quality == Quality.GOOD
    later = decoder.decode(
        MEASURE, b'[{"n":"t","u":"Cel","v":20},{"n":"lid","u":"Cel","v":20}]', False, NOW_MS + 180_000
    )
    assert [one.quality for one in accepted(later).readings] == [Quality.TOO_FAST, Quality.GOOD]


def test_a_rejected_message_leaves_no_trace_in_later_judgements(decoder: Decoder) -> None:
    accepted(decode(decoder, f'[{{"n":"t","u":"Cel","v":28,"t":{NOW_S - 60}}}]'))
    rejected(decode(decoder, f'[{{"n":"t","u":"Cel","v":59,"t":{NOW_S - 1}}},{{"n":"rh","u":"%","v":1}}]'))
    (reading,) = accepted(decode(decoder, '[{"n":"t","u":"Cel","v":28.1}]')).readings
    assert reading.quality == Quality.GOOD


def test_a_message_delivered_twice_reads_the_same_twice(decoder: Decoder) -> None:
    payload = f'[{{"n":"t","u":"Cel","v":28,"t":{NOW_S}}}]'
    assert decode(decoder, payload) == decode(decoder, payload)
