"""Dated corrections: which one counts when, how sure a value is, and what is told of it."""

import json
import math
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import Quantity
from sensors.calibration import Calibrations, Record, Stated, stated_of
from sensors.calibration_line import UNCORRECTED, YEAR_MS, Line, Point, one_point
from tests.sensors.example_site import SITE

DAY_MS = 86_400_000
T = "north/t"
STATED = {T: Stated(Quantity.AIR_TEMPERATURE, 0.5), "north/rh": Stated(Quantity.RELATIVE_HUMIDITY, 3.0)}
MAKER_U = 0.5 / math.sqrt(3)


def shifted(shift: float, drift: float = 0.0) -> Line:
    """A line that adds `shift`, from a reference good within 0.05 K."""
    point = Point(30.0 + shift, 30.0, 0.05 / math.sqrt(3), 0.05, "reference")
    return one_point(Quantity.AIR_TEMPERATURE, point, 0.5, 0.05, drift)


def record(from_day: int, line: Line, due_day: int | None = None, taken_day: int | None = None) -> Record:
    taken = from_day if taken_day is None else taken_day
    due_ms = None if due_day is None else due_day * DAY_MS
    return Record(T, from_day * DAY_MS, line, "one-point", taken * DAY_MS, due_ms, 0, "kim", "")


def of(*records: Record) -> Calibrations:
    return Calibrations(records, STATED)


def test_without_a_calibration_a_value_is_itself_and_as_sure_as_its_maker_says() -> None:
    found = of()
    assert found.corrected(T, 29.7, 5) == 29.7
    assert found.corrected("gone/t", 29.7, 5) == 29.7
    assert found.standard_uncertainty(T, 29.7, 5) == pytest.approx(0.2887, abs=1e-4)
    assert found.basis(T) == []
    assert found.in_force(T, 5) is None
    assert found.straight(T, 10, 20) == ((0, 1.0, 0.0, MAKER_U),)


def test_a_correction_counts_from_its_date_until_the_next_one() -> None:
    found = of(record(10, shifted(-0.3)), record(20, shifted(0.2)))
    shown = [
        found.corrected(T, 30.0, moment) for moment in (10 * DAY_MS - 1, 10 * DAY_MS, 20 * DAY_MS - 1, 20 * DAY_MS)
    ]
    assert shown == pytest.approx([30.0, 29.7, 29.7, 30.2])
    assert found.corrected("north/rh", 80.0, 15 * DAY_MS) == 80.0


def test_one_entered_later_for_an_earlier_time_counts_there_and_leaves_the_later_alone() -> None:
    found = of(record(20, shifted(0.2)), record(10, shifted(-0.3)))
    assert found.corrected(T, 30.0, 15 * DAY_MS) == pytest.approx(29.7)
    assert found.corrected(T, 30.0, 25 * DAY_MS) == pytest.approx(30.2)
    following = found.next_from(T, 10 * DAY_MS)
    assert following is not None
    assert following.valid_from_ms == 20 * DAY_MS
    assert found.next_from(T, 20 * DAY_MS) is None


def test_of_two_with_the_same_date_the_one_recorded_later_counts() -> None:
    found = of(record(10, shifted(-0.3)), record(10, shifted(0.4)))
    assert found.corrected(T, 30.0, 11 * DAY_MS) == pytest.approx(30.4)
    assert len(found.basis(T)) == 1


def test_a_correction_taken_back_counts_no_more_and_the_maker_s_word_does() -> None:
    found = of(record(10, shifted(-0.3)), record(20, UNCORRECTED))
    assert found.corrected(T, 30.0, 15 * DAY_MS) == pytest.approx(29.7)
    assert found.corrected(T, 30.0, 20 * DAY_MS) == 30.0
    assert found.in_force(T, 20 * DAY_MS) is None
    assert found.standard_uncertainty(T, 30.0, 20 * DAY_MS) == MAKER_U
    assert found.basis(T)[-1] == [20 * DAY_MS, 1.0, 0.0, MAKER_U]


def test_a_calibrated_probe_is_surer_and_becomes_less_sure_with_age() -> None:
    found = of(record(0, shifted(-0.3, drift=0.1), due_day=365))
    fresh, old = (found.standard_uncertainty(T, 30.0, day * DAY_MS) for day in (0, 364))
    assert fresh < old < MAKER_U


def test_past_its_due_date_the_correction_stays_and_the_maker_s_uncertainty_is_back() -> None:
    found = of(record(0, shifted(-0.3), due_day=100))
    assert found.standard_uncertainty(T, 30.0, 100 * DAY_MS - 1) < MAKER_U
    assert found.standard_uncertainty(T, 30.0, 100 * DAY_MS) == MAKER_U
    assert found.corrected(T, 30.0, 500 * DAY_MS) == pytest.approx(29.7)
    assert [piece.from_ms for piece in found.straight(T, 0, 200 * DAY_MS)] == [0, 100 * DAY_MS]


def test_an_overdue_calibration_with_a_poor_reference_is_not_made_surer_by_that() -> None:
    poor = Point(29.7, 30.0, 1.0 / math.sqrt(3), 0.05, "reference")
    line = one_point(Quantity.AIR_TEMPERATURE, poor, 0.5, 0.05, 0.0)
    found = of(record(0, line, due_day=100))
    assert found.standard_uncertainty(T, 30.0, 101 * DAY_MS) > MAKER_U


def test_a_back_dated_correction_is_less_sure_the_further_back_it_is_taken() -> None:
    found = of(record(0, shifted(-0.3, drift=0.3), taken_day=200))
    ages = [found.standard_uncertainty(T, 30.0, day * DAY_MS) for day in (0, 100, 200)]
    assert ages == sorted(ages, reverse=True)
    assert ages[0] > ages[2]


def test_the_pieces_in_force_are_told_with_their_moments() -> None:
    found = of(record(10, shifted(-0.3)), record(20, shifted(0.2)))
    pieces = found.straight(T, 15 * DAY_MS, 25 * DAY_MS)
    assert [(piece.from_ms, piece.gain) for piece in pieces] == [(10 * DAY_MS, 1.0), (20 * DAY_MS, 1.0)]
    assert [piece.shift for piece in pieces] == pytest.approx([-0.3, 0.2])
    assert [piece.from_ms for piece in found.straight(T, 15 * DAY_MS, 20 * DAY_MS - 1)] == [10 * DAY_MS]
    assert [piece.from_ms for piece in found.straight(T, 15 * DAY_MS, 20 * DAY_MS)] == [10 * DAY_MS, 20 * DAY_MS]
    assert [piece.from_ms for piece in found.straight(T, 20 * DAY_MS, 20 * DAY_MS)] == [20 * DAY_MS]
    assert [piece.from_ms for piece in found.straight(T, 5, 6)] == [0]


def test_a_piece_is_as_sure_as_at_the_end_of_its_time() -> None:
    line = shifted(-0.3, drift=0.2)
    found = of(record(0, line, due_day=365))
    assert found.straight(T, 0, 1)[0].standard_uncertainty == line.standard_uncertainty(29.0, YEAR_MS)
    assert of(record(0, line)).straight(T, 0, 1)[0].standard_uncertainty == line.standard_uncertainty(29.0, YEAR_MS)


def test_the_basis_is_json_and_the_same_until_a_record_is_added() -> None:
    records = [record(10, shifted(-0.3), due_day=50), record(20, shifted(0.2), due_day=400)]
    basis = of(*records).basis(T)
    assert json.loads(json.dumps(basis)) == basis
    # The first is followed before it is due; the second is past its due date at the end.
    assert [each[0] for each in basis] == [10 * DAY_MS, 20 * DAY_MS, 400 * DAY_MS]
    assert of(*records).basis(T) == basis
    assert of(*records, record(15, shifted(0.0))).basis(T) != basis


def test_one_that_was_due_before_its_date_counts_as_overdue_at_once() -> None:
    found = of(record(100, shifted(-0.3), due_day=50, taken_day=10))
    assert found.basis(T) == [[100 * DAY_MS, 1.0, pytest.approx(-0.3), MAKER_U]]
    assert found.standard_uncertainty(T, 30.0, 100 * DAY_MS) == MAKER_U


@settings(derandomize=True, deadline=None)
@given(
    days=st.lists(st.tuples(st.integers(0, 30), st.floats(-2, 2)), max_size=8),
    start=st.integers(0, 40),
    length=st.integers(0, 20),
    at=st.floats(0, 1),
)
def test_the_pieces_correct_as_value_by_value(
    days: Sequence[tuple[int, float]], start: int, length: int, at: float
) -> None:
    found = of(*(record(day, shifted(shift), due_day=day + 3) for day, shift in days))
    pieces = found.straight(T, start * DAY_MS, (start + length) * DAY_MS)
    moment = int((start + at * length) * DAY_MS)
    assert pieces[0].from_ms <= start * DAY_MS
    inside = [piece for piece in pieces if piece.from_ms <= moment][-1]
    assert inside.gain * 29.0 + inside.shift == pytest.approx(found.corrected(T, 29.0, moment))
    assert inside.standard_uncertainty == pytest.approx(found.standard_uncertainty(T, 29.0, moment), abs=0.01)


def test_a_site_states_the_accuracy_of_a_channel_or_the_usual_one_of_its_quantity_counts() -> None:
    probe = SITE.probes[0]
    finer = probe.channels[0].model_copy(update={"accuracy": 0.1})
    changed = SITE.model_copy(
        update={"probes": (probe.model_copy(update={"channels": (finer, *probe.channels[1:])}), *SITE.probes[1:])}
    )
    before, after = stated_of(SITE), stated_of(changed)
    name = f"{probe.id}/{finer.name}"
    assert (before[name].accuracy, after[name].accuracy) == (0.5, 0.1)
    assert {each.accuracy for each in before.values() if each.quantity is Quantity.RELATIVE_HUMIDITY} == {3.0}
    assert {each.accuracy for each in before.values() if each.quantity.is_temperature} == {0.5}


def test_an_unknown_channel_has_no_uncertainty_to_tell() -> None:
    with pytest.raises(KeyError):
        of().standard_uncertainty("gone/t", 30.0, 0)
