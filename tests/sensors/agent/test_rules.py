"""The pure rules of the agent: beats, lines of the spool, dating, packs."""

import json
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.agent.beats import Beats
from sensors.agent.lines import Line, decode, encode, read_values, values_text
from sensors.agent.packs import State, measure_pack, state_pack
from sensors.agent.timekeeper import DOUBT_MS, Offset, Timekeeper
from sensors.senml import decode_pack
from tests.sensors.agent.boards import BOOT, DAY_MS, START_MS, TEXT

MINUTE_MS = 60_000


def test_delays_do_not_add_up() -> None:
    beats = Beats(MINUTE_MS, 500)
    due = []
    for _ in range(1_000):
        due.append(beats.due_ms)
        beats.advance(beats.due_ms + 733)
    assert due == [500 + number * MINUTE_MS for number in range(1_000)]
    assert beats.missed == 0


@pytest.mark.parametrize(
    ("done_ms", "next_ms", "missed"),
    [(0, 1000, 0), (999, 1000, 0), (1000, 2000, 1), (3500, 4000, 3), (-5, 1000, 0)],
)
def test_a_beat_that_could_not_be_kept_is_counted_and_not_made_up_for(done_ms: int, next_ms: int, missed: int) -> None:
    beats = Beats(1000, 0)
    beats.advance(done_ms)
    assert (beats.due_ms, beats.missed) == (next_ms, missed)


@given(
    st.integers(1, 10**15),
    st.integers(0, 10**15),
    st.none() | st.integers(0, 10**15),
    st.dictionaries(
        st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}", fullmatch=True),
        st.tuples(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(["Cel", "%RH", "/"])),
        max_size=5,
    ),
)
def test_a_line_comes_back_as_it_was_written(
    number: int, steady_ms: int, moment_ms: int | None, values: dict[str, tuple[float, str]]
) -> None:
    line = Line(number, BOOT, steady_ms, moment_ms, values_text(values))
    assert decode(encode(line)) == line
    assert read_values(line.values) == values


def test_a_line_is_text_with_its_checksum_in_front() -> None:
    raw = encode(Line(12, BOOT, 3_000, None, TEXT))
    checksum, _, body = raw.rstrip(b"\n").partition(b" ")
    assert body == b'12 5f0c11d2 3000 - {"t":[28.4,"Cel"]}'
    assert int(checksum, 16) == zlib.crc32(body)


@given(st.data())
def test_any_single_byte_that_changes_spoils_the_line(data: st.DataObject) -> None:
    raw = encode(Line(12, BOOT, 3_000, START_MS, TEXT))
    at = data.draw(st.integers(0, len(raw) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda one: one != raw[at]))
    found = decode(raw[:at] + bytes([byte]) + raw[at + 1 :])
    # A checksum in capital letters would be another spelling of the same number; none is written so.
    assert found is None


def keeper(known: dict[str, Offset] | None = None, newest_ms: int = 0, *, own: bool = False) -> Timekeeper:
    return Timekeeper(BOOT, known or {}, newest_ms, own=own)


def test_what_was_measured_before_the_clock_was_right_is_dated_by_the_time_since_the_start() -> None:
    time = keeper()
    # A board without a battery begins in 1970 (or where its system was built), and nobody vouches for its clock.
    assert time.look(5_000, 5_000, synchronised=False) is None
    assert time.moment(5_000) is None
    assert time.placed(BOOT, 5_000) is None
    # Two days later a time service sets it: the board started at START_MS.
    assert time.look(2 * DAY_MS, START_MS + 2 * DAY_MS, synchronised=True) == 0
    assert time.placed(BOOT, 5_000) == START_MS + 5_000
    assert time.moment(2 * DAY_MS + 1) == START_MS + 2 * DAY_MS + 1


def test_a_clock_that_is_synchronised_and_says_1970_is_not_right() -> None:
    time = keeper()
    assert time.look(5_000, 5_000, synchronised=True) is None
    assert time.moment(5_000) is None


def test_a_clock_set_back_by_hand_is_not_followed() -> None:
    time = keeper()
    time.look(1_000, START_MS + 1_000, synchronised=True)
    # Setting the clock by hand ends what the kernel says of a time service.
    assert time.look(9_000, START_MS + 9_000 - 3_600_000, synchronised=False) is None
    assert time.moment(9_000) == START_MS + 9_000


def test_a_step_of_the_time_service_is_followed_and_does_not_move_what_was_dated_before() -> None:
    time = keeper()
    time.look(1_000, START_MS + 1_000, synchronised=True)
    assert time.look(9_000, START_MS + 9_000 - 4_000, synchronised=True) == -4_000
    assert time.moment(9_000) == START_MS + 5_000
    assert time.placed(BOOT, 500) == START_MS + 500
    # Slewing and jitter are no steps.
    assert time.look(10_000, START_MS + 6_499, synchronised=True) is None


def test_another_start_of_the_board_is_dated_by_its_own_offset_or_not_at_all() -> None:
    time = keeper({"earlier": Offset(START_MS - DAY_MS, START_MS - DAY_MS + 7)})
    time.look(1_000, START_MS + 1_000, synchronised=True)
    assert time.placed("earlier", 3_000) == START_MS - DAY_MS + 3_000
    assert time.placed("never-right", 3_000) is None


def test_an_agent_that_begins_again_in_the_same_start_goes_on_without_a_time_service() -> None:
    first = keeper()
    first.look(1_000, START_MS + 1_000, synchronised=True)
    first.moment(2_000)
    known, newest_ms = first.to_keep()
    assert newest_ms == START_MS + 2_000
    second = Timekeeper(BOOT, known, newest_ms, own=False)
    assert second.look(8_000, 8_000, synchronised=False) is None
    assert second.moment(8_000) == START_MS + 8_000


def test_a_clock_of_its_own_may_not_stand_before_what_was_dated_last_or_only_for_ten_minutes() -> None:
    time = keeper(newest_ms=START_MS, own=True)
    behind_ms = START_MS - DAY_MS
    assert time.look(0, behind_ms, synchronised=False) is None
    assert time.look(DOUBT_MS - 1, behind_ms + DOUBT_MS - 1, synchronised=False) is None
    assert time.moment(DOUBT_MS - 1) is None
    assert time.look(DOUBT_MS, behind_ms + DOUBT_MS, synchronised=False) == 0
    assert time.moment(DOUBT_MS) == behind_ms + DOUBT_MS


def test_a_clock_of_its_own_that_goes_on_is_right_at_once() -> None:
    time = keeper(newest_ms=START_MS, own=True)
    assert time.look(0, START_MS + 1, synchronised=False) == 0


def test_a_pack_has_values_time_number_and_start_in_fields_of_the_standard_alone() -> None:
    line = Line(77, "5f0c11d2aabbccdd", 60_000, None, '{"t":[28.4,"Cel"],"door":[1.0,"/"]}')
    payload = measure_pack(line, START_MS + 123)
    assert json.loads(payload) == [
        {"bt": 1_780_000_000.123, "n": "t", "u": "Cel", "v": 28.4},
        {"n": "door", "u": "/", "v": 1.0},
        {"n": "seq", "u": "count", "v": 77},
        {"n": "boot", "vs": "5f0c11d2"},
    ]
    records = decode_pack(payload, 0)
    assert isinstance(records, tuple)
    assert {(record.name, record.measured_at_ms, record.timed) for record in records} == {
        (name, START_MS + 123, True) for name in ("t", "door", "seq", "boot")
    }


def test_the_state_names_what_is_lost_and_what_is_wrong() -> None:
    faults = {"t": "checksum: a bad contact"}
    state = State(5, 4, 3, 2, 1, "right", "no space left on device", faults, "1.2", 0.06, 90, 1_850_000_000)
    records = {record["n"]: record.get("v", record.get("vs")) for record in json.loads(state_pack(state, START_MS))}
    assert records == {
        "waiting": 5,
        "given-up": 4,
        "damaged": 3,
        "undated": 2,
        "missed": 1,
        "full": 0.06,
        "oldest": 90,
        "certificate-ends": 1_850_000_000,
        "version": "1.2",
        "clock": "right",
        "disk": "no space left on device",
        "fault/t": "checksum: a bad contact",
    }
    assert isinstance(decode_pack(state_pack(state, START_MS), 0), tuple)
    assert "bt" not in json.loads(state_pack(state, None))[0]
