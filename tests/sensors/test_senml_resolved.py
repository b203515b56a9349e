"""Resolved records (RFC 8428 section 4.6), for packs of any make."""

import json
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from sensors.reading import Rejection
from sensors.senml import Record, decode_pack

steady = settings(derandomize=True, deadline=None)
NOW_MS = 1_780_000_000_500
NAMES = st.builds(str.__add__, st.sampled_from("Az09"), st.text("az0-:./_", max_size=6))
NUMBERS = st.floats(-1e6, 1e6)
TIMES = st.integers(-(10**6), 10**6).map(lambda thousandths: thousandths / 1000)
REGULAR = st.fixed_dictionaries({"n": NAMES, "v": NUMBERS}, optional={"u": st.sampled_from(["Cel", "%RH"]), "t": TIMES})
BASES = st.fixed_dictionaries(
    {},
    optional={
        "bn": NAMES,
        "bu": st.sampled_from(["Cel", "K"]),
        "bv": NUMBERS,
        "bt": st.sampled_from([0, 1.78e9, 1780000000.125]),
    },
)
PACKS = st.lists(st.tuples(BASES, REGULAR).map(lambda pair: {**pair[0], **pair[1]}), min_size=1, max_size=6)


def decoded(pack: list[dict[str, Any]]) -> tuple[Record, ...]:
    records = decode_pack(json.dumps(pack).encode(), NOW_MS)
    assert not isinstance(records, Rejection), records
    return records


def as_resolved(records: tuple[Record, ...]) -> bytes:
    """Write records as section 4.6 wants resolved ones: no base fields, no relative times."""
    pack: list[dict[str, Any]] = []
    for one in records:
        fields: dict[str, Any] = {"n": one.name, "v": one.value, "t": one.measured_at_ms / 1000}
        pack.append(fields if one.unit is None else {**fields, "u": one.unit})
    return json.dumps(pack).encode()


@steady
@given(PACKS)
def test_rfc_4_6_resolved_records_resolve_to_themselves(pack: list[dict[str, Any]]) -> None:
    first = decoded(pack)
    again = decode_pack(as_resolved(first), NOW_MS + 86_400_000)
    assert again == tuple(one._replace(timed=True) for one in first)


@steady
@given(PACKS)
def test_rfc_4_6_records_are_in_order_of_time(pack: list[dict[str, Any]]) -> None:
    moments = [one.measured_at_ms for one in decoded(pack)]
    assert moments == sorted(moments)


@steady
@given(st.binary(max_size=200))
def test_any_bytes_get_an_answer(payload: bytes) -> None:
    assert isinstance(decode_pack(payload, NOW_MS), Rejection | tuple)
