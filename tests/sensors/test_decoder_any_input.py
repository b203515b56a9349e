"""Whatever arrives ends in exactly one outcome, and nothing makes the decoder raise."""

import json
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from sensors.decoder import Decoder
from sensors.reading import Accepted, Decoded, Rejection
from tests.sensors.example_site import SITE

steady = settings(derandomize=True, deadline=None, max_examples=300)
NOW_MS = 1_780_000_000_000
NOW_S = 1_780_000_000
MEASURE = "clutchwarden/north-air/measure"
STATUS = "clutchwarden/north-air/status"
TOPICS = st.sampled_from([MEASURE, STATUS, "room/1/state", "floor/t"]) | st.text(max_size=30)
SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
VALUES = SCALARS | st.lists(SCALARS, max_size=2)
LABELS = st.sampled_from(
    ["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "v", "vs", "vb", "vd", "s", "t", "ut", "x", "x_"]
)
RECORDS: st.SearchStrategy[dict[str, Any]] = st.builds(
    lambda valid, mutation: {**valid, **mutation},
    st.fixed_dictionaries({"n": st.sampled_from(["t", "rh", "a:lid", "other"]), "u": st.just("Cel"), "v": st.floats()}),
    st.dictionaries(LABELS, VALUES, max_size=2),
)


def check(decoded: Decoded) -> None:
    if isinstance(decoded, Rejection):
        assert decoded.outcome.is_rejected
        assert 0 < len(decoded.reason.encode()) < 500, "storable as UTF-8, and readable"
    elif isinstance(decoded, Accepted):
        assert decoded.readings
        for one in decoded.readings:
            assert one.value - one.value == 0.0, "finite"
            assert 946_684_800_000 <= one.measured_at_ms <= NOW_MS + 120_000
        moments = [one.measured_at_ms for one in decoded.readings]
        assert moments == sorted(moments)


@steady
@given(TOPICS, st.binary(max_size=100), st.booleans())
def test_any_topic_and_any_bytes_end_in_one_outcome(topic: str, payload: bytes, retained: bool) -> None:
    check(Decoder(SITE).decode(topic, payload, retained, NOW_MS))


@steady
@given(st.sampled_from([MEASURE, "room/1/state", "floor/t"]), st.lists(RECORDS, max_size=4), st.booleans())
def test_packs_with_wrong_fields_end_in_one_outcome(topic: str, pack: list[dict[str, Any]], retained: bool) -> None:
    check(Decoder(SITE).decode(topic, json.dumps(pack).encode(), retained, NOW_MS))


MESSAGES = st.sampled_from(
    [
        (MEASURE, f'[{{"bn":"a:","bt":{NOW_S},"bu":"Cel","n":"t","v":30.2}},{{"n":"rh","u":"%RH","v":84.6,"t":-1}}]'),
        ("room/1/state", '{"temperature":"86.0","humidity":84.6}'),
        ("floor/t", "302"),
    ]
)
DAMAGE = st.sampled_from(
    [
        b"NaN",
        b"1e999",
        b"9" * 5000,
        b'"',
        b"{",
        b"[",
        b"]",
        b"\\ud800",
        b"null",
        b"true",
        b"-",
        b"e",
        b'_":',
        b",",
        b"\xff",
    ]
)
DAMAGES = st.lists(st.tuples(st.integers(0, 120), st.integers(0, 4), DAMAGE | st.binary(max_size=2)), max_size=4)


@steady
@given(MESSAGES, DAMAGES, st.booleans())
def test_a_damaged_message_ends_in_one_outcome(
    message: tuple[str, str], damages: list[tuple[int, int, bytes]], retained: bool
) -> None:
    topic, text = message
    payload = bytearray(text.encode())
    for position, length, wrong in damages:
        payload[position : position + length] = wrong
    check(Decoder(SITE).decode(topic, bytes(payload), retained, NOW_MS))
