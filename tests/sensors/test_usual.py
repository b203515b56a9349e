"""The quick way and the whole way through a pack must come to the same; the quick one may also decline."""

import json
from typing import Any

from hypothesis import example, given
from hypothesis import strategies as st

from config.words import Quantity
from sensors.reading import ChannelKey
from sensors.senml import resolve_pack
from sensors.strict_json import load
from sensors.usual import usual_pack

NAMES = {
    "air": ChannelKey("p/air", "p", "air", Quantity.AIR_TEMPERATURE),
    "rh": ChannelKey("p/rh", "p", "rh", Quantity.RELATIVE_HUMIDITY),
    "lid": ChannelKey("p/lid", "p", "lid", Quantity.SURFACE_TEMPERATURE),
}
UNITS = {"air": "Cel", "rh": "%RH", "lid": "Cel"}
NOW_MS = 1_780_000_000_000

member = st.fixed_dictionaries(
    {},
    optional={
        "n": st.sampled_from(["air", "rh", "lid", "a/air", "other", "", 3]),
        "u": st.sampled_from(["Cel", "%RH", "K", "/", "degF", None]),
        "v": st.one_of(st.floats(-50, 150), st.sampled_from([28, True, "28", None, 1e308])),
        "t": st.sampled_from([0, -60.0, 1.5, "x"]),
        "bt": st.sampled_from([1.78e9, 1.78e9 + 0.25, 10.0, 1e16, "x"]),
        "bu": st.sampled_from(["Cel", "%RH", 1]),
        "bn": st.sampled_from(["a/", ""]),
        "bv": st.sampled_from([0, 20.0]),
        "vb": st.just(True),
        "x_": st.just(1),
        "note": st.just("text"),
    },
)


@given(st.lists(member, max_size=4))
@example([{"bt": 1.78e9, "n": "air", "u": "Cel", "v": 28.5}, {"n": "rh", "u": "%RH", "v": 84.5, "t": -30.0}])
def test_what_is_read_the_quick_way_is_what_the_whole_way_reads(pack: list[dict[str, Any]]) -> None:
    document = load(json.dumps(pack).encode())
    quick = usual_pack(document, NAMES)
    if quick is None:
        return
    whole = resolve_pack(document, NOW_MS)
    assert isinstance(whole, tuple)
    ordered = sorted(quick, key=lambda one: one.measured_at_ms)
    assert [(one.key.name, one.value, one.measured_at_ms, one.timed) for one in ordered] == [
        (record.name, record.value, record.measured_at_ms, record.timed) for record in whole
    ]
    assert [record.unit for record in whole] == [UNITS[record.name] for record in whole]


def test_a_probes_ordinary_message_takes_the_quick_way() -> None:
    pack = [{"bt": 1.78e9, "n": "air", "u": "Cel", "v": 28.5}, {"n": "rh", "u": "%RH", "v": 84}]
    found = usual_pack(load(json.dumps(pack).encode()), NAMES)
    assert found is not None
    assert [one.value for one in found] == [28.5, 84.0]
