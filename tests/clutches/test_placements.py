"""Where a clutch lay follows from all that was said, also said late and said wrongly at first."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.clutches.placements import FOR_EVER_MS, Placement, in_force, next_start_ms, placements_from

N1, N2, N3 = "north/upper/N1", "north/upper/N2", "north/upper/N3"


@pytest.mark.parametrize(
    ("said", "holding"),
    [
        pytest.param([], [], id="nothing said"),
        pytest.param([(N1, 0), (N2, 10)], [(N1, 0), (N2, 10)], id="a move"),
        pytest.param([(N1, 0), (N3, 20), (N2, 10)], [(N1, 0), (N2, 10), (N3, 20)], id="a move said late"),
        pytest.param([(N1, 0), (N2, 10), (N3, 10)], [(N1, 0), (N3, 10)], id="a corrected move"),
        pytest.param([(N1, 0), (N2, 0)], [(N2, 0)], id="a corrected setting up"),
        pytest.param([(N1, 0), (N2, 10), (N2, 8)], [(N1, 0), (N2, 8)], id="it moved earlier than first said"),
        pytest.param([(N1, 0), (N2, 10), (N1, 10)], [(N1, 0)], id="it never moved"),
        pytest.param([(N1, 0), (N2, 10), (N1, 10), (N2, 12)], [(N1, 0), (N2, 12)], id="it moved later than first said"),
        pytest.param(
            [(N1, 0), (N2, 10), (N1, 20), (N1, 10), (N3, 5)], [(N1, 0), (N3, 5)], id="moves taken back stay taken back"
        ),
    ],
)
def test_what_holds_after_all_that_was_said(said: list[tuple[str, int]], holding: list[tuple[str, int]]) -> None:
    assert placements_from(Placement(*one) for one in said) == tuple(Placement(*one) for one in holding)


statements = st.lists(st.builds(Placement, st.sampled_from([N1, N2, N3]), st.integers(0, 20)), max_size=8)


@given(statements, st.builds(Placement, st.sampled_from([N1, N2, N3]), st.integers(0, 20)), st.integers(0, 25))
def test_a_statement_holds_from_its_moment_to_the_next_move_and_changes_nothing_else(
    said: list[Placement], new: Placement, moment_ms: int
) -> None:
    before, after = placements_from(said), placements_from([*said, new])
    if new.from_ms <= moment_ms < next_start_ms(before, new.from_ms):
        found = in_force(after, moment_ms)
        assert found is not None
        assert found.place == new.place
    else:
        old, found = in_force(before, moment_ms), in_force(after, moment_ms)
        assert (old and old.place) == (found and found.place)


@given(statements)
def test_neighbouring_placements_differ_in_place_and_grow_in_time(said: list[Placement]) -> None:
    found = placements_from(said)
    for one, following in itertools.pairwise(found):
        assert one.place != following.place
        assert one.from_ms < following.from_ms


def test_before_the_first_placement_a_clutch_lies_nowhere_and_the_last_one_has_no_end() -> None:
    found = (Placement(N1, 10),)
    assert in_force(found, 9) is None
    assert in_force(found, 10) == Placement(N1, 10)
    assert next_start_ms(found, 10) == FOR_EVER_MS
