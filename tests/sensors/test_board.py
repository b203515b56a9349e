"""What an agent says of itself, understood: its own packs, other people's, and those of somebody who means harm."""

import json
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.agent.packs import State, state_pack
from sensors.board import LARGEST_BYTES, LONGEST_TEXT, MOST_FAULTS, board_state
from sensors.board_state import BoardState
from sensors.decoder import Decoder
from sensors.reading import BoardSaid, Outcome, Rejection
from tests.sensors.example_site import SITE

NOW_MS = 1_780_000_000_000
TOPIC = "clutchwarden/north-air/agent"
WELL = State(0, 0, 0, 0, 0, "right", "well", {}, "1.2.3", 0.06)


def said(*records: object) -> BoardState | Rejection:
    return board_state(json.dumps(records).encode(), NOW_MS)


def state(*records: object) -> BoardState:
    found = said(*records)
    assert isinstance(found, BoardState), found
    return found


def test_what_the_agent_writes_is_what_is_read() -> None:
    disk, faults = "no space left on device", {"t": "stuck-low: at zero"}
    told = State(5, 4, 3, 2, 1, "not set yet", disk, faults, "1.2.3", 0.85, 90, 1_850_000_000)
    found = board_state(state_pack(told, NOW_MS - 1000), NOW_MS)
    assert found == BoardState(
        said_ms=NOW_MS - 1000,
        version="1.2.3",
        waiting=5,
        given_up=4,
        damaged=3,
        undated=2,
        missed=1,
        full=0.85,
        oldest_s=90.0,
        certificate_ends_s=1_850_000_000.0,
        clock="not set yet",
        disk="no space left on device",
        faults={"t": "stuck-low: at zero"},
    )
    assert isinstance(found, BoardState)
    assert (found.lost, found.clock_is_right) == (9, False)


def test_a_board_that_is_well_says_nothing_of_its_disk_and_one_without_a_clock_no_time() -> None:
    found = board_state(state_pack(WELL, None), NOW_MS)
    assert isinstance(found, BoardState)
    assert (found.said_ms, found.disk, found.clock_is_right, found.oldest_s, found.lost) == (None, "", True, None, 0)


def test_a_room_is_never_more_than_full() -> None:
    assert state({"n": "full", "v": 9e15}).full == 1.0


def test_a_certificate_ends_on_a_day_that_there_is_in_every_time_zone() -> None:
    ends_s = state({"n": "certificate-ends", "u": "s", "v": 9e15}).certificate_ends_s
    assert ends_s is not None
    for zone in ("Pacific/Kiritimati", "Etc/GMT+12"):
        assert datetime.fromtimestamp(ends_s, UTC).astimezone(ZoneInfo(zone)).year >= 9998


def test_names_that_nobody_knows_are_passed_over_and_a_base_name_is_put_in_front() -> None:
    assert state({"n": "waiting", "v": 1}, {"n": "colour", "vs": "blue"}) == BoardState(waiting=1)
    assert state({"bn": "fault/", "n": "t", "vs": "gone"}).faults == {"t": "gone"}
    assert state({"n": "waiting", "v": 1, "bt": NOW_MS / 1000 + 3600}).said_ms is None, "a clock that is ahead"


@pytest.mark.parametrize(
    ("payload", "outcome"),
    [
        (b"", Outcome.MALFORMED),
        (b"online", Outcome.MALFORMED),
        (b"{}", Outcome.MALFORMED),
        (b"[" * 10_000, Outcome.MALFORMED),
        (b'[{"n":"colour","vs":"blue"}]', Outcome.MALFORMED),
        (b'[{"n":"waiting","v":-1}]', Outcome.MALFORMED),
        (b'[{"n":"waiting","v":1.5}]', Outcome.MALFORMED),
        (b'[{"n":"waiting","v":1e300}]', Outcome.MALFORMED),
        (b'[{"n":"waiting","vs":"many"}]', Outcome.MALFORMED),
        (b'[{"n":"waiting","v":NaN}]', Outcome.NOT_A_NUMBER),
        (b'[{"n":"full","v":1e999}]', Outcome.NOT_A_NUMBER),
        (b'[{"n":"clock","v":1}]', Outcome.MALFORMED),
        (b'[{"n":"fault/t","v":1}]', Outcome.MALFORMED),
        (b'[{"n":"waiting","v":1,"must_":1}]', Outcome.MALFORMED),
        (b'[{"n":"disk","vs":"' + b"x" * LARGEST_BYTES + b'"}]', Outcome.OVERSIZED),
    ],
)
def test_what_is_none_is_refused_with_a_reason(payload: bytes, outcome: Outcome) -> None:
    found = board_state(payload, NOW_MS)
    assert isinstance(found, Rejection)
    assert found.outcome is outcome
    assert found.reason


def test_texts_are_one_line_of_what_can_be_seen_and_there_are_only_so_many() -> None:
    turned = state({"n": "fault/t", "vs": "a\nb\u202ec\x1b[31m\u0000d"}).faults["t"]
    assert turned == "a b c [31m d"
    assert len(state({"n": "disk", "vs": "y" * 5000}).disk) == LONGEST_TEXT
    many = state(*({"n": f"fault/c{number}", "vs": "gone"} for number in range(300)))
    assert len(many.faults) == MOST_FAULTS


@given(
    st.one_of(
        st.binary(max_size=300),
        st.builds(
            lambda value: json.dumps(value).encode(),
            st.recursive(
                st.none()
                | st.booleans()
                | st.floats()
                | st.text(max_size=20)
                | st.sampled_from(["n", "v", "vs", "bn", "waiting", "fault/t", "clock"]),
                lambda inner: (
                    st.lists(inner, max_size=4)
                    | st.dictionaries(
                        st.sampled_from(["n", "v", "vs", "bn", "bt", "u"]) | st.text(max_size=4), inner, max_size=5
                    )
                ),
                max_leaves=12,
            ),
        ),
    )
)
def test_nothing_that_comes_is_more_than_refused(payload: bytes) -> None:
    found = Decoder(SITE).decode(TOPIC, payload, True, NOW_MS)
    assert isinstance(found, BoardSaid | Rejection)


def test_the_decoder_knows_whose_board_it_is() -> None:
    decoder = Decoder(SITE)
    found = decoder.decode(TOPIC, state_pack(WELL, NOW_MS), True, NOW_MS)
    assert isinstance(found, BoardSaid)
    assert (found.probe, found.state.version, found.received_at_ms) == ("north-air", "1.2.3", NOW_MS)
    stranger = decoder.decode("clutchwarden/nobody/agent", state_pack(WELL, NOW_MS), True, NOW_MS)
    assert isinstance(stranger, Rejection)
    assert stranger.outcome is Outcome.UNKNOWN_PROBE
