"""What an entry may be, when it counts, and what all entries for a box come to."""

import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.clutches.eggs import EggState, Stated
from daemon.rounds.entries import is_uuid, moment_of, refusal
from daemon.rounds.state import corrected_ids, in_order, state_of
from daemon.rounds.values import Clock, EggsSeen, Entry, Finding, Lid, Medium, Stop, Where
from tests.rounds.bench import HOUR_MS, MOULD, N1, START_MS, WATCH, eggs, entry, uuid
from tests.rounds.sheets import finding
from tests.support.household import MINUTE_MS

STOP = Stop(N1, N1, "upper shelf, box N1", "North, upper shelf, box N1", "north", "North", 1, "Juniper", "ratsnake")
COBRA = replace(STOP, label="Kaa", venomous=True)
EMPTY = replace(STOP, clutch_id=None, label="")

REFUSED = {
    "no id": (replace(entry(1), entry_id="7"), STOP, "entry_id"),
    "capitals in the id": (replace(entry(1), entry_id=uuid(1).upper().replace("0", "A")), STOP, "entry_id"),
    "nobody": (entry(1, who=" "), STOP, "who"),
    "nothing": (Entry(uuid(1), N1, "ana"), STOP, ""),
    "no water": (entry(1, water_ml=0.0), STOP, "water_ml"),
    "water that was taken away": (entry(1, water_ml=-5.0), STOP, "water_ml"),
    "a sea of water": (entry(1, water_ml=40_000.0), STOP, "water_ml"),
    "no number": (entry(1, water_ml=float("nan")), STOP, "water_ml"),
    "where without how much": (entry(1, water_where=Where.EDGES), STOP, "water_ml"),
    "well and wet": (entry(1, all_well=True, medium=Medium.WET), STOP, "all_well"),
    "well and dripping": (entry(1, all_well=True, lid=Lid.DRIPPING), STOP, "all_well"),
    "well and mouldy": (entry(1, all_well=True, eggs=(eggs(MOULD, "1"),)), STOP, "all_well"),
    "well and treated": (entry(1, all_well=True, treated="powder"), STOP, "all_well"),
    "left out and wet": (entry(1, skipped="no time", medium=Medium.WET), STOP, "skipped"),
    "left out and well": (entry(1, skipped="no time", all_well=True), STOP, "skipped"),
    "a novel": (entry(1, remark="x" * 2001), STOP, "remark"),
    "no egg": (entry(1, eggs=(EggsSeen(WATCH, ()),)), STOP, "eggs"),
    "no eggs at all": (entry(1, eggs=(EggsSeen(WATCH, 0),)), STOP, "eggs"),
    "eggs of an empty box": (entry(1, eggs=(eggs(WATCH, "1"),)), EMPTY, "eggs"),
    "an empty box that is well": (entry(1), EMPTY, "eggs"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_is_refused_beside_its_field(name: str) -> None:
    one, stop, field = REFUSED[name]
    refused = refusal(one, stop)
    assert refused is not None
    assert refused.field == field
    assert refused.reason
    assert refused.hint.endswith(".")


TAKEN = {
    "well": (entry(1), STOP),
    "well through the lid": (entry(1, all_well=True, through_lid=True), COBRA),
    "one look at the lid": (entry(1, lid=Lid.BEADS), COBRA),
    "a pipped cobra": (entry(1, eggs=(eggs(Stated(EggState.PIPPED), "1"),)), COBRA),
    "a remark on an empty box": (entry(1, remark="cleaned"), EMPTY),
    "left out": (entry(1, skipped="no time", remark="the lid is stuck"), STOP),
    "taking an entry back": (Entry(uuid(2), N1, "ana", corrects=uuid(1)), STOP),
}


@pytest.mark.parametrize("name", TAKEN)
def test_what_can_be_is_taken(name: str) -> None:
    assert refusal(*TAKEN[name]) is None


BY_HAND: dict[str, dict[str, object]] = {
    "all_well": {"all_well": True},
    "medium": {"medium": Medium.DRY},
    "wiped": {"wiped": True},
    "water_ml": {"water_ml": 20.0},
    "treated": {"treated": "powder"},
    "looked_at_eggs": {"looked_at_eggs": True},
    "eggs": {"eggs": (eggs(MOULD, "1"),)},
}


@pytest.mark.parametrize("field", BY_HAND)
def test_nobody_but_a_trained_handler_has_a_hand_in_a_box_of_venomous_animals(field: str) -> None:
    one = entry(1, **BY_HAND[field])  # type: ignore[arg-type]
    refused = refusal(one, COBRA)
    assert refused is not None
    assert (refused.field, "trained handlers only" in refused.reason) == (field, True)
    assert refusal(replace(one, trained_handler=True), COBRA) is None
    assert refusal(one, STOP) is None


@pytest.mark.parametrize(
    ("made", "counts", "clock"),
    [
        (None, 30, Clock.FITS),
        (10, 10, Clock.FITS),
        (0, 0, Clock.FITS),
        (30, 30, Clock.FITS),
        # Two minutes are let pass without a word: project choice.
        (32, 30, Clock.FITS),
        (33, 30, Clock.AHEAD),
        (-2, 0, Clock.FITS),
        (-3, 30, Clock.BEFORE_THE_ROUND),
    ],
)
def test_a_moment_that_cannot_be_becomes_that_of_arrival(made: int | None, counts: int, clock: Clock) -> None:
    """Minutes since the start of the round; it arrived after 30."""
    made_ms = None if made is None else START_MS + made * MINUTE_MS
    found = moment_of(made_ms, START_MS, START_MS + 30 * MINUTE_MS)
    assert found == (START_MS + counts * MINUTE_MS, clock)


def test_the_numbers_of_a_device_keep_the_order_where_its_clock_was_set_back() -> None:
    first = finding(1, entry(1, device="phone", seq=1, medium=Medium.DRY), START_MS + HOUR_MS)
    second = finding(2, entry(2, device="phone", seq=2, medium=Medium.CLUMPS), START_MS)
    assert in_order([second, first]) == [first, second]
    assert state_of(N1, [second, first]).medium is Medium.CLUMPS


def test_water_adds_up_and_the_newest_word_on_the_medium_counts() -> None:
    state = state_of(
        N1,
        [
            finding(1, entry(1, medium=Medium.DRY, water_ml=30.0, water_where=Where.EDGES), START_MS),
            finding(2, entry(2, who="ben", medium=Medium.CLUMPS, water_ml=10.0, lid=Lid.BEADS), START_MS + 1),
            finding(3, entry(3, who="ben", remark="one egg dented"), START_MS + 2),
        ],
    )
    assert (state.water_ml, state.medium, state.lid) == (40.0, Medium.CLUMPS, Lid.BEADS)
    assert [(each.text, each.who) for each in state.remarks] == [("one egg dented", "ben")]
    # Water that was added in between explains what the second one felt.
    assert state.disagreements == ()


def test_a_box_that_was_left_out_and_seen_later_is_seen() -> None:
    out = finding(1, entry(1, skipped="no time"), START_MS)
    assert state_of(N1, [out]).skipped == "no time"
    assert not state_of(N1, [out]).is_seen
    seen = state_of(N1, [out, finding(2, entry(2), START_MS + 1)])
    assert (seen.skipped, seen.is_seen) == ("", True)


def test_of_two_corrections_of_one_entry_the_last_counts() -> None:
    said = [
        finding(1, entry(1, water_ml=400.0), START_MS),
        finding(2, entry(2, water_ml=40.0, corrects=uuid(1)), START_MS + 1),
        finding(3, entry(3, water_ml=50.0, corrects=uuid(1)), START_MS + 2),
    ]
    assert corrected_ids(said) == {uuid(1), uuid(2)}
    assert state_of(N1, said).water_ml == 50.0


def test_a_correction_that_comes_before_what_it_corrects_holds_when_that_comes() -> None:
    late = finding(2, entry(2, water_ml=40.0, corrects=uuid(1)), START_MS + 1)
    assert state_of(N1, [late]).water_ml == 40.0
    assert state_of(N1, [late, finding(1, entry(1, water_ml=400.0), START_MS)]).water_ml == 40.0


@st.composite
def said_of_a_box(draw: st.DrawFn) -> list[Finding]:
    count = draw(st.integers(1, 6))
    made = []
    for number in range(1, count + 1):
        one = entry(
            number,
            who=draw(st.sampled_from(["ana", "ben"])),
            device=draw(st.sampled_from(["", "phone", "tablet"])),
            seq=draw(st.integers(0, 4)),
            medium=draw(st.none() | st.sampled_from(Medium)),
            lid=draw(st.none() | st.sampled_from(Lid)),
            water_ml=draw(st.none() | st.sampled_from([10.0, 30.0])),
            wiped=draw(st.booleans()),
            remark=draw(st.sampled_from(["", "a", "b"])),
            skipped="",
            corrects=draw(st.sampled_from(["", *map(uuid, range(1, count + 1))])),
        )
        made.append(finding(number, one, START_MS + draw(st.integers(0, 3))))
    return made


@given(said_of_a_box(), st.randoms(use_true_random=False))
def test_neither_the_order_of_arrival_nor_a_repeat_changes_what_stands(
    said: list[Finding], chance: random.Random
) -> None:
    shuffled = [*said, *chance.choices(said, k=3)]
    chance.shuffle(shuffled)
    assert state_of(N1, shuffled) == state_of(N1, said)


@given(said_of_a_box())
def test_nothing_is_lost_and_water_is_that_of_the_entries_that_count(said: list[Finding]) -> None:
    state = state_of(N1, said)
    assert {each.entry.entry_id for each in state.findings} == {each.entry.entry_id for each in said}
    counting = [each.entry for each in said if each.entry.entry_id not in state.corrected]
    assert state.water_ml == sum(each.water_ml or 0.0 for each in counting)


@given(st.uuids(version=4))
def test_every_uuid_of_a_browser_is_one(made: object) -> None:
    assert is_uuid(str(made))
    assert not is_uuid(str(made)[:-1])
