"""Payloads of devices that do not speak SenML."""

import json
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.site import Source
from config.words import Quantity
from sensors.arrival import Measured
from sensors.foreign import decode_foreign, extraction
from sensors.reading import ChannelKey, Outcome, Rejection

AIR = ChannelKey("north-air/t", "north-air", "t", Quantity.AIR_TEMPERATURE)
RH = ChannelKey("north-air/rh", "north-air", "rh", Quantity.RELATIVE_HUMIDITY)
NOW_MS = 1_780_000_000_000
steady = settings(derandomize=True, deadline=None)


def source(
    pointer: str | None = None,
    unit: str = "Cel",
    scale: float = 1.0,
    time_pointer: str | None = None,
    time_format: Literal["unix", "unix-ms", "rfc3339"] | None = None,
) -> Source:
    return Source(
        topic="gateway/state",
        channel="t",
        pointer=pointer,
        unit=unit,
        scale=scale,
        time_pointer=time_pointer,
        time_format=time_format,
    )


def decoded(payload: bytes, stated: Source, key: ChannelKey = AIR) -> Measured | Rejection:
    found = decode_foreign([extraction(stated, key)], payload, NOW_MS)
    return found if isinstance(found, Rejection) else found[0]


@pytest.mark.parametrize(
    ("payload", "value"),
    [
        (b"23.4", 23.4),
        (b"  23.4\n", 23.4),
        (b"-3", -3.0),
        (b"+23.4", 23.4),
        (b"23.", 23.0),
        (b".5", 0.5),
        (b"2.34e1", 23.4),
        (b"007", 7.0),
    ],
)
def test_a_plain_number_is_a_value_measured_on_arrival(payload: bytes, value: float) -> None:
    assert decoded(payload, source()) == Measured(AIR, value, NOW_MS, timed=False)


@pytest.mark.parametrize(
    ("payload", "outcome"),
    [
        (b"", Outcome.MALFORMED),
        (b"\xff", Outcome.MALFORMED),
        (b"unavailable", Outcome.NOT_A_NUMBER),
        (b"nan", Outcome.NOT_A_NUMBER),
        (b"inf", Outcome.NOT_A_NUMBER),
        (b"1e999", Outcome.NOT_A_NUMBER),
        (b"9" * 60_000, Outcome.NOT_A_NUMBER),
        (b"9" * 60_000 + b"x", Outcome.NOT_A_NUMBER),
        (b"23,4", Outcome.NOT_A_NUMBER),
        (b"23.4 C", Outcome.NOT_A_NUMBER),
        (b"1_000", Outcome.NOT_A_NUMBER),
        (b"0x17", Outcome.NOT_A_NUMBER),
        ("٢٣".encode(), Outcome.NOT_A_NUMBER),
        (b'"23.4"', Outcome.NOT_A_NUMBER),
        (b"\x00", Outcome.NOT_A_NUMBER),
        (b"3\x1e", Outcome.NOT_A_NUMBER),  # a separator that str.strip takes for white space and float does not
        (b"3\xc2\xa0", Outcome.NOT_A_NUMBER),
    ],
)
def test_what_is_not_a_plain_number_is_refused(payload: bytes, outcome: Outcome) -> None:
    refused = decoded(payload, source())
    assert isinstance(refused, Rejection)
    assert refused.outcome is outcome
    assert len(refused.reason.encode()) < 300


@pytest.mark.parametrize("number", ["23.4", '"23.4"', '" 23.4 "'])
def test_json_may_hold_the_number_as_number_or_as_decimal_string(number: str) -> None:
    payload = f'{{"climate":[{{"t":{number}}}]}}'.encode()
    assert decoded(payload, source("/climate/0/t")) == Measured(AIR, 23.4, NOW_MS, timed=False)


@pytest.mark.parametrize(
    ("payload", "outcome"),
    [
        (b'{"t":true}', Outcome.NOT_A_NUMBER),
        (b'{"t":[23.4]}', Outcome.NOT_A_NUMBER),
        (b'{"t":{"c":23.4}}', Outcome.NOT_A_NUMBER),
        (b'{"t":"23,4"}', Outcome.NOT_A_NUMBER),
        (b'{"t":""}', Outcome.NOT_A_NUMBER),
        (b'{"t":NaN}', Outcome.NOT_A_NUMBER),
        (b'{"t":1e999}', Outcome.NOT_A_NUMBER),
        (b'{"t":"\\ud800"}', Outcome.NOT_A_NUMBER),
        (b'{"t":1,"t":2}', Outcome.MALFORMED),
        (b'{"t":1', Outcome.MALFORMED),
        (b"{'t':1}", Outcome.MALFORMED),
        (b'{"t":null}', Outcome.UNKNOWN_CHANNEL),
        (b'{"h":50}', Outcome.UNKNOWN_CHANNEL),
        (b"23.4", Outcome.UNKNOWN_CHANNEL),
        (b"[" * 60_000, Outcome.MALFORMED),
    ],
)
def test_json_without_a_number_in_its_place_is_refused(payload: bytes, outcome: Outcome) -> None:
    refused = decoded(payload, source("/t"))
    assert isinstance(refused, Rejection)
    assert refused.outcome is outcome
    assert len(refused.reason.encode()) < 300


@pytest.mark.parametrize(
    ("unit", "scale", "number", "key", "expected"),
    [
        ("degF", 1.0, 86.0, AIR, 30.0),  # NIST SP 811 (2008) B.8
        ("K", 1.0, 303.15, AIR, 30.0),  # BIPM SI Brochure 9th ed. 2.3.1
        ("degC", 0.01, 3020, AIR, 30.2),
        ("degF", 0.1, 860, AIR, 30.0),
        ("percent", 1.0, 84.6, RH, 84.6),
        ("percent", 0.1, 846, RH, 84.6),
        ("/", 1.0, 0.846, RH, 84.6),
    ],
)
def test_the_scale_comes_before_the_unit(
    unit: str, scale: float, number: float, key: ChannelKey, expected: float
) -> None:
    measured = decoded(json.dumps({"v": number}).encode(), source("/v", unit, scale), key)
    assert isinstance(measured, Measured)
    assert measured.value == pytest.approx(expected, abs=1e-9)


def test_a_scale_that_leads_beyond_a_double_is_refused() -> None:
    refused = decoded(b"1e308", source(scale=1000.0))
    assert isinstance(refused, Rejection)
    assert refused.outcome is Outcome.NOT_A_NUMBER


BOTH = [extraction(source("/t"), AIR), extraction(source("/h", "percent"), RH)]


def test_one_payload_feeds_several_channels() -> None:
    found = decode_foreign(BOTH, b'{"t":30.2,"h":84.6}', NOW_MS)
    assert found == (Measured(AIR, 30.2, NOW_MS, timed=False), Measured(RH, 84.6, NOW_MS, timed=False))


@pytest.mark.parametrize("payload", [b'{"t":30.2}', b'{"t":30.2,"h":null}'])
def test_a_channel_without_news_is_passed_over(payload: bytes) -> None:
    assert decode_foreign(BOTH, payload, NOW_MS) == (Measured(AIR, 30.2, NOW_MS, timed=False),)


def test_one_value_that_is_no_number_spoils_the_message() -> None:
    refused = decode_foreign(BOTH, b'{"t":30.2,"h":"wet"}', NOW_MS)
    assert isinstance(refused, Rejection)
    assert refused.outcome is Outcome.NOT_A_NUMBER
    assert "channel rh: 'wet'" in refused.reason


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["t", "h", "at"]), inner, max_size=3),
)
FORMATS = st.sampled_from(["unix", "unix-ms", "rfc3339"])


@steady
@given(st.binary(max_size=60) | JSON.map(lambda value: json.dumps(value).encode()), FORMATS)
def test_any_payload_gets_an_answer(payload: bytes, time_format: Literal["unix", "unix-ms", "rfc3339"]) -> None:
    rules = [*BOTH, extraction(source("/t", time_pointer="/at", time_format=time_format), AIR)]
    assert isinstance(decode_foreign(rules, payload, NOW_MS), Rejection | tuple)
