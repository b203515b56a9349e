"""What the clutches of a real journal were exposed to, by hand.

One species stands three hours a day above 31 °C or below 20 °C, as if somebody had published it; of the ratsnake itself
nothing is published, but 34 °C are said to be lethal (common practice, no source).
"""

import math
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from daemon.review.clutch import ClutchReview
from daemon.review.clutch_advice import advice
from daemon.review.clutch_exposure import Exposure
from daemon.review.clutch_words import clutch_sentences
from daemon.review.gap_values import HeatOff
from daemon.review.values import Span, Verdict
from daemon.review_records import PlaceRecords
from daemon.thermometers import AirChannels
from tests.daemon.evaluated import AIR, House
from tests.review.outages import BOXES, BRIDGE_MS, HOUR_MS, OUTAGE_MS, PAPER, Course, Outage, house, usual
from tests.support.journals import new_journal

LETHAL, HEAT, COLD = 0, 1, 2
"""The order in which they come."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> House:
    return house(tmp_path_factory.mktemp("site"))


@pytest.fixture
def outage(whole: House, tmp_path: Path) -> Iterator[Outage]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Outage(whole, journal)


def told(of: ClutchReview) -> str:
    sentences = clutch_sentences(of, fahrenheit=False, zone=ZoneInfo("Europe/Madrid"), now_ms=OUTAGE_MS)
    return "\n".join([*sentences, *(each.text for each in advice(of, fahrenheit=False))])


def hot_for(hours: float, value_c: float) -> Course:
    """So warm for so long from the beginning on, with a line of ten minutes from and to 28 °C."""
    return lambda at: value_c if 0 <= at <= hours else usual(at)


def lost_mains(at: float) -> float | None:
    """Six hours without a reading, at whose end it is 22 °C."""
    return None if 0 < at < 6 else 22.0 if at == 6 else usual(at)


def test_four_hours_at_33_degrees_pass_the_limit_and_not_the_lethal_one(outage: Outage) -> None:
    """Lines of ten minutes between 28 and 33 °C are above 31 °C for two fifths: 4 h and, behind it, 4 min."""
    outage.enter("Juniper", BOXES[0], species="bounded")
    outage.read({"one/air": hot_for(4, 33.0)})
    found = outage.reviews()["Juniper"]
    lethal, heat, cold = found.exposures
    assert (lethal.verdict, heat.verdict, cold.verdict) == (Verdict.IN, Verdict.OUT, Verdict.IN)
    # The four minutes before the period are in the 24 h that end in it.
    assert heat.hours == pytest.approx([4 + 8 / 60] * 3)
    assert heat.tolerance.source == PAPER
    assert found.extremes is not None
    assert (found.extremes.lowest_c, found.extremes.highest_c) == (28.0, 33.0)
    assert "no published figure" not in told(found)
    assert "Exposure limit passed: above 31.0 °C for 4.1 h; its species stands 3 h within 24 h." in told(found)


def test_hours_before_the_period_count_in_the_windows_that_end_in_it(outage: Outage) -> None:
    """It was hot from hour 0 to 4 of the outage; a period from hour 5 on still has those 4 h within 24 h."""
    outage.enter("Juniper", BOXES[0], species="bounded")
    outage.read({"one/air": hot_for(4, 33.0)})
    found = outage.reviews(5, 10)["Juniper"]
    assert found.exposures[HEAT].hours.low == pytest.approx(4 + 8 / 60)
    assert found.extremes is not None
    assert found.extremes.highest_c == 28.0


def test_where_nobody_knows_what_the_heater_did_in_a_gap_the_lethal_limit_is_unknown(outage: Outage) -> None:
    outage.enter("Juniper", BOXES[0], species="bounded")
    outage.read({"one/air": lost_mains})
    found = outage.reviews(0, 6)["Juniper"]
    lethal, heat, _ = found.exposures
    assert (lethal.verdict, heat.verdict) == (Verdict.UNKNOWN, Verdict.UNKNOWN)
    assert (lethal.hours.low, heat.hours.low) == (0.0, 0.0)
    assert found.extremes is not None
    assert math.isinf(found.extremes.warmest_possible_c)
    assert "nothing says how warm" in told(found)


def test_where_the_mains_were_off_it_was_never_too_hot_and_perhaps_too_cold(outage: Outage) -> None:
    """The room is 20 °C, give or take 6 K: it can have been below 20 °C for hours, and nobody measured it."""
    outage.heat_off = (HeatOff(Span(OUTAGE_MS, OUTAGE_MS + 6 * HOUR_MS), "", "the mains were absent."),)
    outage.enter("Juniper", BOXES[0], species="bounded")
    outage.read({"one/air": lost_mains})
    lethal, heat, cold = outage.reviews(0, 6)["Juniper"].exposures
    assert (lethal.verdict, heat.verdict, cold.verdict) == (Verdict.IN, Verdict.IN, Verdict.UNKNOWN)
    assert cold.hours.low == 0
    assert 3 < cold.hours.high <= 6


def test_hours_beyond_in_a_gap_are_those_of_its_course(outage: Outage) -> None:
    outage.enter("Juniper", BOXES[0])
    outage.read({"one/air": lost_mains})
    [lethal] = outage.reviews(1, 5)["Juniper"].exposures
    with outage.journal.read() as conn:
        air = AirChannels(outage.house.site)
        air.load(conn)
        records = PlaceRecords(conn, outage.house.site, air, BRIDGE_MS)
        [course] = records.temperature(BOXES[0], OUTAGE_MS + HOUR_MS, OUTAGE_MS + 5 * HOUR_MS).gaps
    expected = course.time_beyond_ms(lethal.tolerance.figure_c, above=True)
    assert lethal.hours == pytest.approx([each / HOUR_MS for each in expected if each is not None])


def test_a_clutch_that_moved_in_the_middle_has_the_exposure_of_both_halves(outage: Outage) -> None:
    """Two hours at 35 °C in the first box, then four of a gap in the second."""
    moved = outage.enter("moved", BOXES[0])
    outage.move(moved, BOXES[1], OUTAGE_MS + 2 * HOUR_MS)
    outage.read({"one/air": hot_for(4, 35.0), "two/air": lost_mains})
    both, first, second = (outage.reviews(*hours)["moved"] for hours in ((0, 6), (0, 2), (2, 6)))

    def lethal(of: ClutchReview) -> Exposure:
        return of.exposures[LETHAL]

    assert lethal(first).hours == pytest.approx((2.0, 2.0, 2.0))
    assert lethal(second).hours.high == pytest.approx(4.0)
    for one, other, together in zip(lethal(first).hours, lethal(second).hours, lethal(both).hours, strict=True):
        assert one is not None
        assert other is not None
        assert one + other == pytest.approx(together)
    assert lethal(both).verdict is Verdict.OUT


def test_a_box_without_a_probe_may_be_as_far_from_its_shelf_as_places_differ(outage: Outage) -> None:
    """The shelf is at 33.5 °C, half a kelvin below what is lethal, and its boxes may be a kelvin from it."""
    outage.enter("N3", BOXES[2])
    outage.read({AIR: hot_for(4, 33.5)})
    found = outage.reviews()["N3"]
    assert found.exposures[LETHAL].verdict is Verdict.UNKNOWN
    assert found.extremes is not None
    assert (found.extremes.highest_c, found.extremes.warmest_possible_c) == (33.5, 34.5)
    assert "Measured around where it lay: 28.0 °C to 33.5 °C." in told(found)


def test_a_species_without_a_figure_is_told_so_and_no_figure_is_made_up(outage: Outage) -> None:
    outage.enter("Juniper", BOXES[0])
    outage.read({"one/air": hot_for(4, 33.0)})
    text = told(outage.reviews()["Juniper"])
    assert "For how many hours these eggs stand heat or cold: no published figure." in text
    assert "Exposure limit" not in text
    assert "Lethal limit: it was never above 34.0 °C. Source: common practice, no source" in text
