"""SenML in JSON, clause by clause of RFC 8428."""

import pytest

from sensors.reading import Outcome, Rejection
from sensors.senml import Record, decode_pack

NOW_MS = 1_780_000_000_500


def decoded(text: str) -> tuple[Record, ...]:
    records = decode_pack(text.encode(), NOW_MS)
    assert not isinstance(records, Rejection), records
    return records


def short(text: str) -> list[tuple[str, str | None, float | bool | None, int]]:
    return [(one.name, one.unit, one.value, one.measured_at_ms) for one in decoded(text)]


# Published examples of RFC 8428: the figures of section 5.1, resolved as its section 5.1.4 does.


def test_rfc_5_1_1_a_single_reading_is_measured_now() -> None:
    pack = '[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]'
    assert decoded(pack) == (Record("urn:dev:ow:10e2073a01080063", "Cel", 23.1, NOW_MS, timed=False),)


def test_rfc_5_1_2_earlier_values_of_one_quantity_come_in_order_of_time() -> None:
    values = ",".join(f'{{"n":"current","t":{-5 + step},"v":{1.2 + step / 10:.1f}}}' for step in range(5))
    pack = (
        '[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,'
        f'"n":"voltage","u":"V","v":120.1}},{values},{{"n":"current","v":1.7}}]'
    )
    name = "urn:dev:ow:10e2073a0108006:current"
    assert short(pack) == [
        (name, "A", 1.2, 1_276_020_071_001),
        (name, "A", 1.3, 1_276_020_072_001),
        (name, "A", 1.4, 1_276_020_073_001),
        (name, "A", 1.5, 1_276_020_074_001),
        (name, "A", 1.6, 1_276_020_075_001),
        ("urn:dev:ow:10e2073a0108006:voltage", "V", 120.1, 1_276_020_076_001),
        (name, "A", 1.7, 1_276_020_076_001),
    ]


def test_rfc_5_1_4_is_what_5_1_3_resolves_to() -> None:
    pack = (
        '[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},{"u":"lon","v":24.30621},'
        '{"t":60,"v":20.3},{"u":"lat","t":60,"v":60.07965},{"u":"%EL","t":150,"v":98},{"t":180,"v":21.2}]'
    )
    name = "urn:dev:ow:10e2073a01080063"
    assert short(pack) == [
        (name, "%RH", 20.0, 1_320_067_464_000),
        (name, "lon", 24.30621, 1_320_067_464_000),
        (name, "%RH", 20.3, 1_320_067_524_000),
        (name, "lat", 60.07965, 1_320_067_524_000),
        (name, "%EL", 98.0, 1_320_067_614_000),
        (name, "%RH", 21.2, 1_320_067_644_000),
    ]


def test_rfc_5_1_5_text_and_data_are_carried_without_a_number() -> None:
    pack = (
        '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},'
        '{"n":"open","vb":false},{"n":"nfv-reader","vd":"aGkgCg"}]'
    )
    assert [one.value for one in decoded(pack)] == [23.1, None, False, None]


def test_rfc_5_1_6_a_new_base_name_keeps_the_base_time() -> None:
    pack = (
        '[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},'
        '{"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},'
        '{"n":"humidity","u":"%RH","v":67}]'
    )
    assert short(pack) == [
        ("2001:db8::2/temperature", "Cel", 25.2, 1_320_078_429_000),
        ("2001:db8::2/humidity", "%RH", 30.0, 1_320_078_429_000),
        ("2001:db8::1/temperature", "Cel", 12.3, 1_320_078_429_000),
        ("2001:db8::1/humidity", "%RH", 67.0, 1_320_078_429_000),
    ]


def test_rfc_5_1_7_a_record_of_base_fields_only_measures_nothing() -> None:
    pack = '[{"bn":"urn:dev:ow:10e2073a01080063:"},{"n":"temp","u":"Cel","v":23.1}]'
    assert short(pack) == [("urn:dev:ow:10e2073a01080063:temp", "Cel", 23.1, NOW_MS)]


# Three packs with made-up numbers, resolved by hand with the rules of sections 4.1 and 4.5.


def test_absolute_times_and_mixed_units_resolve() -> None:
    pack = (
        '[{"bn":"urn:dev:ow:28ff641e0f165e3c:","bt":1780000000,"bu":"Cel","n":"air","v":30.2},{"n":"lid","v":27.9},'
        '{"n":"rh","u":"%RH","v":84.6},{"n":"air","t":-60,"v":30.1}]'
    )
    assert short(pack) == [
        ("urn:dev:ow:28ff641e0f165e3c:air", "Cel", 30.1, 1_779_999_940_000),
        ("urn:dev:ow:28ff641e0f165e3c:air", "Cel", 30.2, 1_780_000_000_000),
        ("urn:dev:ow:28ff641e0f165e3c:lid", "Cel", 27.9, 1_780_000_000_000),
        ("urn:dev:ow:28ff641e0f165e3c:rh", "%RH", 84.6, 1_780_000_000_000),
    ]


def test_relative_times_count_back_from_arrival() -> None:
    pack = (
        '[{"bn":"box1/","bu":"Cel","n":"t","t":-120,"v":29.5},{"n":"t","t":-60,"v":29.6},{"n":"t","v":29.7},'
        '{"n":"door","vb":false}]'
    )
    assert short(pack) == [
        ("box1/t", "Cel", 29.5, 1_779_999_880_500),
        ("box1/t", "Cel", 29.6, 1_779_999_940_500),
        ("box1/t", "Cel", 29.7, 1_780_000_000_500),
        ("box1/door", "Cel", False, 1_780_000_000_500),
    ]
    assert not any(one.timed for one in decoded(pack))


def test_a_base_value_holds_until_it_is_replaced() -> None:
    pack = (
        '[{"bn":"a/","bt":1780000000,"bu":"%RH","bv":80,"n":"rh","v":4.5,"ut":30},{"n":"rh","t":10,"v":5},'
        '{"bn":"b/","n":"rh","t":10,"v":-2.25},{"bv":0,"n":"t","u":"Cel","t":10,"v":28}]'
    )
    assert short(pack) == [
        ("a/rh", "%RH", 84.5, 1_780_000_000_000),
        ("a/rh", "%RH", 85.0, 1_780_000_010_000),
        ("b/rh", "%RH", 77.75, 1_780_000_010_000),
        ("b/t", "Cel", 28.0, 1_780_000_010_000),
    ]


@pytest.mark.parametrize(
    ("fields", "measured_at_ms", "timed"),
    [
        ('"t":0', NOW_MS, False),
        ('"t":-1.5', NOW_MS - 1500, False),
        ('"t":5', NOW_MS + 5000, False),
        ('"t":268435455', NOW_MS + 268_435_455_000, False),
        # 2^28 is the first absolute second, 1978-07-04T21:24:16Z by RFC 8428 section 4.5.3.
        ('"t":268435456', 268_435_456_000, True),
        ('"bt":268435400,"t":100', 268_435_500_000, True),
        ('"bt":1780000000,"t":-60', 1_779_999_940_000, True),
        ('"bt":1780000000.25', 1_780_000_000_250, True),
        ('"bt":1.78E9', 1_780_000_000_000, True),
    ],
)
def test_rfc_4_5_3_the_sum_of_the_times_decides_between_now_and_1970(
    fields: str, measured_at_ms: int, timed: bool
) -> None:
    (record,) = decoded(f'[{{"n":"t","u":"Cel","v":30,{fields}}}]')
    assert (record.measured_at_ms, record.timed) == (measured_at_ms, timed)


@pytest.mark.parametrize(
    "pack",
    [
        '[{"n":"t","v":30,"bver":10}]',
        '[{"n":"t","v":30,"bver":5},{"n":"t","v":31,"t":1}]',
        '[{"n":"t","v":30},{"n":"t","v":31,"t":1,"bver":10}]',
        '[{"n":"t","v":30,"location":[{"x_":1}]}]',
        '[{"bn":"t","location":"shelf"},{"v":30}]',
        '[{"n":"t","s":30}]',
        '[{"n":"t","s":30,"v":1}]',
        '[{"n":"A0-:./_z","v":30}]',
        ' [ {"n" : "t" , "v" : 3E1 } ] ',
    ],
)
def test_what_the_rfc_allows_is_taken(pack: str) -> None:
    assert decoded(pack)


MALFORMED, NOT_A_NUMBER = Outcome.MALFORMED, Outcome.NOT_A_NUMBER

REFUSED = [
    (b"", MALFORMED, "RFC 8428 5: an array"),
    (b"[]", MALFORMED, "RFC 8428 5: one object for each record"),
    (b"{}", MALFORMED, "RFC 8428 5: an array"),
    (b'{"n":"t","v":30}', MALFORMED, "RFC 8428 5: an array"),
    (b"30.2", MALFORMED, "RFC 8428 5: an array"),
    (b"[30.2]", MALFORMED, "RFC 8428 5: of objects"),
    (b"[[]]", MALFORMED, "RFC 8428 5: of objects"),
    (b"[{}]", MALFORMED, "RFC 8428 4.2: one value field"),
    (b"[null]", MALFORMED, "RFC 8428 5: of objects"),
    (b'[{"n":"t"}]', MALFORMED, "RFC 8428 4.2: one value field"),
    (b'[{"bn":"a","n":"t"}]', MALFORMED, "RFC 8428 4.2: one value field"),
    (b'[{"bn":"a","u":"Cel"}]', MALFORMED, "RFC 8428 4.2: one value field"),
    (b'[{"bn":"a","bv":20,"n":"t"}]', MALFORMED, "RFC 8428 4.2: a base value is no value field"),
    (b'[{"n":"t","bs":20}]', MALFORMED, "RFC 8428 4.2: a base sum is no sum field"),
    (b'[{"n":"t","v":30,"vs":"30"}]', MALFORMED, "RFC 8428 4.2: exactly one value field"),
    (b'[{"n":"t","v":30,"vb":true}]', MALFORMED, "RFC 8428 4.2: exactly one value field"),
    (b'[{"n":"t","v":30,"bver":11}]', MALFORMED, "RFC 8428 4.4: newer than understood"),
    (b'[{"n":"t","v":30},{"bver":11,"n":"t","v":30}]', MALFORMED, "RFC 8428 4.4"),
    (b'[{"n":"t","v":30},{"bver":5,"n":"t","v":30}]', MALFORMED, "RFC 8428 4.4: one version"),
    (b'[{"bver":5,"n":"t","v":30},{"bver":10,"n":"t","v":30}]', MALFORMED, "RFC 8428 4.4: one version"),
    (b'[{"bver":0,"n":"t","v":30}]', MALFORMED, "RFC 8428 4.1: positive"),
    (b'[{"bver":9.5,"n":"t","v":30}]', MALFORMED, "RFC 8428 4.1: integer"),
    (b'[{"n":"t","v":30,"zone_":1}]', MALFORMED, "RFC 8428 4.4: must be understood"),
    (b'[{"bn":"t","zone_":1},{"v":30}]', MALFORMED, "RFC 8428 4.4: must be understood"),
    (b'[{"n":"t","v":30,"_":1}]', MALFORMED, "RFC 8428 4.4: must be understood"),
    (b'[{"v":30}]', MALFORMED, "RFC 8428 4.5.1: no name"),
    (b'[{"n":"","v":30}]', MALFORMED, "RFC 8428 4.5.1: no name"),
    (b'[{"n":"_t","v":30}]', MALFORMED, "RFC 8428 4.5.1: first character"),
    (b'[{"bn":"/","n":"t","v":30}]', MALFORMED, "RFC 8428 4.5.1: first character"),
    (b'[{"n":"air t","v":30}]', MALFORMED, "RFC 8428 4.5.1: space"),
    (b'[{"n":"t\\n","v":30}]', MALFORMED, "RFC 8428 4.5.1: line end"),
    ('[{"n":"käfig","v":30}]'.encode(), MALFORMED, "RFC 8428 4.5.1: other letters"),
    (b'[{"n":"\\ud800","v":30}]', MALFORMED, "RFC 8428 4.5.1: half a surrogate pair"),
    (b'[{"n":"t","v":"30.2"}]', MALFORMED, "RFC 8428 5 table 2: number"),
    (b'[{"n":"t","v":null}]', MALFORMED, "RFC 8428 5 table 2: number"),
    (b'[{"n":"t","v":true}]', MALFORMED, "RFC 8428 5 table 2: a truth value is no number"),
    (b'[{"n":"t","v":[30]}]', MALFORMED, "RFC 8428 5 table 2: number"),
    (b'[{"n":"t","vb":0}]', MALFORMED, "RFC 8428 5 table 2: boolean"),
    (b'[{"n":"t","vs":1}]', MALFORMED, "RFC 8428 5 table 2: string"),
    (b'[{"n":1,"v":30}]', MALFORMED, "RFC 8428 5 table 2: string"),
    (b'[{"n":"t","v":30,"t":"now"}]', MALFORMED, "RFC 8428 5 table 2: number"),
    (b'[{"n":"t","v":30,"t":true}]', MALFORMED, "RFC 8428 5 table 2: number"),
    (b'[{"n":"t","v":30,"ut":false}]', MALFORMED, "RFC 8428 5 table 2: number"),
    (b'[{"n":"t","v":30,"u":null}]', MALFORMED, "RFC 8428 5 table 2: string"),
    (b'[{"n":"t","v":30},{"n":"t"}]', MALFORMED, "ours: one bad record spoils the pack"),
    (b'[{"n":"t","v":30,"v":31}]', MALFORMED, "RFC 7493 2.3: names are unique"),
    (b'[{"n":"t","v":30,"t":1e16}]', MALFORMED, "no calendar has it"),
    (b'[{"n":"t","v":30}', MALFORMED, "RFC 8259 2"),
    (b'[{"n":"t","v":30}]]', MALFORMED, "RFC 8259 2"),
    (b'[{"n":"t","v":030}]', MALFORMED, "RFC 8259 6: no leading zero"),
    (b'[{"n":"t","v":+30}]', MALFORMED, "RFC 8259 6"),
    (b"[{'n':'t','v':30}]", MALFORMED, "RFC 8259 7"),
    (b'\xef\xbb\xbf[{"n":"t","v":30}]', MALFORMED, "RFC 8259 8.1: no byte order mark"),
    (b'[{"n":"t\xff","v":30}]', MALFORMED, "RFC 8428 5: UTF-8"),
    ('[{"n":"t","v":30}]'.encode("utf-16"), MALFORMED, "RFC 8428 5: UTF-8 only"),
    (b"[" * 60_000, MALFORMED, "RFC 8259 9: a reader may limit the depth"),
    (b'[{"n":"t","v":30,"x":' + b'{"x":' * 10_000 + b"1" + b"}" * 10_000 + b"}]", MALFORMED, "RFC 8259 9"),
    (b'[{"n":"t","v":NaN}]', NOT_A_NUMBER, "RFC 8259 6"),
    (b'[{"n":"t","v":Infinity}]', NOT_A_NUMBER, "RFC 8259 6"),
    (b'[{"n":"t","v":-Infinity}]', NOT_A_NUMBER, "RFC 8259 6"),
    (b'[{"n":"t","v":30,"x":NaN}]', NOT_A_NUMBER, "RFC 8259 6: not even in an unknown field"),
    (b'[{"n":"t","v":1e999}]', NOT_A_NUMBER, "RFC 8428 5: the range of a double"),
    (b'[{"n":"t","v":-1e999}]', NOT_A_NUMBER, "RFC 8428 5: the range of a double"),
    (b'[{"n":"t","v":' + b"9" * 400 + b"}]", NOT_A_NUMBER, "RFC 8428 5: the range of a double"),
    (b'[{"n":"t","v":' + b"9" * 5000 + b"}]", NOT_A_NUMBER, "RFC 8428 5: the range of a double"),
    (b'[{"n":"t","v":30,"bt":1e999}]', NOT_A_NUMBER, "RFC 8428 5: the range of a double"),
    (b'[{"n":"t","v":1.7e308,"bv":1.7e308}]', NOT_A_NUMBER, "RFC 8428 4.5.4: the sum too"),
]


@pytest.mark.parametrize(("payload", "outcome", "clause"), REFUSED, ids=range(len(REFUSED)))
def test_what_a_rule_forbids_is_refused_with_a_short_reason(payload: bytes, outcome: Outcome, clause: str) -> None:
    refused = decode_pack(payload, NOW_MS)
    assert isinstance(refused, Rejection), clause
    assert refused.outcome is outcome, clause
    assert 0 < len(refused.reason.encode()) < 300, "storable as UTF-8, and readable"


def test_a_reason_names_the_record() -> None:
    refused = decode_pack(b'[{"n":"t","v":30},{"n":"rh","v":"84"}]', NOW_MS)
    assert isinstance(refused, Rejection)
    assert refused.reason.startswith("record 2: v must be a number")
