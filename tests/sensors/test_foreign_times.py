"""Times in the payloads of devices that do not speak SenML."""

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
NOW_MS = 1_780_000_000_000
TimeFormat = Literal["unix", "unix-ms", "rfc3339"]


def decoded(payload: bytes, time_format: TimeFormat) -> Measured | Rejection:
    stated = Source(
        topic="gateway/state", channel="t", pointer="/t", unit="Cel", time_pointer="/at", time_format=time_format
    )
    found = decode_foreign([extraction(stated, AIR)], payload, NOW_MS)
    return found if isinstance(found, Rejection) else found[0]


TIMES: list[tuple[TimeFormat, str, int, str]] = [
    ("unix", "1780000000", 1_780_000_000_000, "seconds"),
    ("unix", "1780000000.25", 1_780_000_000_250, "seconds with a fraction"),
    ("unix", '"1780000000"', 1_780_000_000_000, "a decimal string"),
    ("unix-ms", "1780000000250", 1_780_000_000_250, "milliseconds"),
    ("rfc3339", '"1985-04-12T23:20:50.52Z"', 482_196_050_520, "RFC 3339 5.8"),
    ("rfc3339", '"1996-12-19T16:39:57-08:00"', 851_042_397_000, "RFC 3339 5.8: 1996-12-20T00:39:57Z"),
    ("rfc3339", '"1990-12-31T23:59:60Z"', 662_688_000_000, "RFC 3339 5.8: a leap second"),
    ("rfc3339", '"1990-12-31T15:59:60-08:00"', 662_688_000_000, "RFC 3339 5.8: the same one"),
    ("rfc3339", '"1937-01-01T12:00:27.87+00:20"', -1_041_337_172_130, "RFC 3339 5.8: the Netherlands of 1937"),
    ("rfc3339", '"2026-05-28t20:26:40z"', 1_780_000_000_000, "RFC 3339 5.6: small letters"),
    ("rfc3339", '"2026-05-28 20:26:40+00:00"', 1_780_000_000_000, "RFC 3339 5.6: a space"),
    ("rfc3339", '"2026-05-28T20:26:40.123456789Z"', 1_780_000_000_123, "RFC 3339 5.6: any number of digits"),
]


@pytest.mark.parametrize(("time_format", "text", "expected_ms", "clause"), TIMES)
def test_a_stated_time_is_used(time_format: TimeFormat, text: str, expected_ms: int, clause: str) -> None:
    payload = f'{{"t":23.4,"at":{text}}}'.encode()
    assert decoded(payload, time_format) == Measured(AIR, 23.4, expected_ms, timed=True), clause


@pytest.mark.parametrize(
    ("time_format", "text"),
    [
        ("unix", '"yesterday"'),
        ("unix", "true"),
        ("unix", "1e999"),
        ("unix", "1e17"),
        ("unix-ms", "[1]"),
        ("rfc3339", "1780000000"),
        ("rfc3339", '"2026-05-28"'),
        ("rfc3339", '"2026-05-28T20:26:40"'),
        ("rfc3339", '"2026-05-28T20:26:40.5"'),
        ("rfc3339", '"2026-05-28T20:26Z"'),
        ("rfc3339", '"2026-02-30T20:26:40Z"'),
        ("rfc3339", '"2026-05-28T25:26:40Z"'),
        ("rfc3339", '"2026-05-28T20:26:40+24:00"'),
        ("rfc3339", '"2026-05-28T20:26:40+01:60"'),
        ("rfc3339", '"0000-01-01T00:00:00Z"'),
        ("rfc3339", '"2026-W22-4T20:26:40Z"'),
        ("rfc3339", '"28.05.2026 20:26:40"'),
    ],
)
def test_a_time_in_another_form_is_refused(time_format: TimeFormat, text: str) -> None:
    refused = decoded(f'{{"t":23.4,"at":{text}}}'.encode(), time_format)
    assert isinstance(refused, Rejection)
    assert refused.outcome is Outcome.MALFORMED


def test_a_time_without_a_zone_is_refused_with_that_reason() -> None:
    refused = decoded(b'{"t":23.4,"at":"2026-05-28T20:26:40"}', "rfc3339")
    assert isinstance(refused, Rejection)
    assert "time zone" in refused.reason


@pytest.mark.parametrize("payload", [b'{"t":23.4}', b'{"t":23.4,"at":null}'])
def test_a_missing_time_means_arrival(payload: bytes) -> None:
    assert decoded(payload, "unix") == Measured(AIR, 23.4, NOW_MS, timed=False)


DIGITS = st.integers(0, 99).map("{:02d}".format)
STAMPS = st.builds(
    "{}{}-{}-{}T{}:{}:{}{}".format,
    *[DIGITS] * 7,
    st.sampled_from(["Z", "+23:59", "-23:59", "+24:00", "", ".5Z", "-00:00"]),
)


@settings(derandomize=True, deadline=None)
@given(STAMPS)
def test_any_timestamp_gets_an_answer(text: str) -> None:
    assert isinstance(decoded(json.dumps({"t": 1, "at": text}).encode(), "rfc3339"), Measured | Rejection)
