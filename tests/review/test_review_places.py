"""What a period did to the places of a real journal."""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from config.check import check_site
from config.places import Places
from config.site import Site
from config.species import HumidityRange, SpeciesProfile
from daemon.climate.cooling_curves import CoolingCurve
from daemon.clutches import register
from daemon.occupancy import Occupancy
from daemon.review.clutch_exposure import Period, Tolerance, exposure
from daemon.review.course import GapKind
from daemon.review.gap_values import HeatOff, Known
from daemon.review.place import LimitKind, LimitReview, PlaceReview
from daemon.review.values import Span, Verdict
from daemon.review_places import place_reviews
from daemon.review_records import PlaceRecords
from daemon.rollups import RollUps
from daemon.storage import cooling, samples
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.daemon.cooled import AIR, HUMIDITY, ROOM, ROOM_PROBE, TENDER
from tests.support.household import DAY_MS, a_clutch, write_site
from tests.support.journals import new_journal

H = 3_600_000
MINUTE_MS = 60_000
START_MS = 1_780_000_000_000 - 1_780_000_000_000 % DAY_MS
BRIDGE_MS = 15 * MINUTE_MS
BOX_PROBE = """
[[probe]]
id = "n1"
place = "north/upper/N1"
[[probe.channel]]
name = "t"
quantity = "air_temperature"
"""
BOX = "n1/t"
LOST = HeatOff(Span(START_MS + 2 * H, None), "north", "The mains contact of the cabinet said absent.")


class Outage:
    """A journal of a day; hours count from midnight. `tender` eggs want 25 to 30 °C, and die at 22 and 34 °C."""

    def __init__(self, journal: Journal, folder: Path, extra: str = "", *, stated_room: bool = True) -> None:
        write_site(folder, 1883, None, ROOM_PROBE + extra)
        if not stated_room:
            stated = (folder / "site.toml").read_text(encoding="utf-8")
            assert "room_temperature_c = 20\n" in stated
            (folder / "site.toml").write_text(stated.replace("room_temperature_c = 20\n", ""), encoding="utf-8")
        (folder / "profiles").mkdir()
        (folder / "profiles" / "tender.toml").write_text(TENDER, encoding="utf-8")
        checked = check_site(folder)
        assert checked.site is not None
        self.journal = journal
        self.site: Site = checked.site
        self.profiles: dict[str, SpeciesProfile] = dict(checked.profiles)
        channels = Decoder(self.site).channels
        self._ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))

    def put(self, channel: str, *points: tuple[float, float], every_min: int = 1) -> None:
        """A reading every so often along straight lines between points (hours, value); a single one alone."""
        series: dict[int, float] = dict.fromkeys([round(points[0][0] * H)], points[0][1])
        for (t0, v0), (t1, v1) in pairwise(points):
            for at_ms in range(round(t0 * H), round(t1 * H) + 1, every_min * MINUTE_MS):
                series[at_ms] = v0 + (v1 - v0) * (at_ms / H - t0) / (t1 - t0)
        readings = [Reading(channel, START_MS + at, START_MS + at, value, 0) for at, value in series.items()]
        self.journal.write(lambda conn: samples.append(conn, self._ids, readings))

    def enter(self, place: str = "north/upper/N1", from_h: float = -48) -> int:
        set_up_ms = START_MS + round(from_h * H)
        clutch = replace(a_clutch(set_up_ms, f"C{from_h}", place), species_id="tender")
        return self.journal.write(lambda conn: register.add_clutch(conn, clutch, "test", set_up_ms))

    def want_humidity(self, low_pct: float, high_pct: float) -> None:
        """The tender eggs want this relative humidity from now on."""
        ends = {"low": low_pct, "high": high_pct}
        stated = HumidityRange.model_validate(
            {key: {"value": each, "source": "invented"} for key, each in ends.items()}
        )
        self.profiles["tender"] = self.profiles["tender"].model_copy(update={"humidity": stated})

    def know(self, hours: float, u_hours: float) -> None:
        starts = [START_MS - (day + 2) * DAY_MS for day in range(3)]
        curves = [CoolingCurve(at, at + H, hours, u_hours, 20.0, room_measured=True) for at in starts]
        self.journal.write(lambda conn: cooling.replace_curves(conn, "north", AIR, (min(starts), START_MS), curves))

    def reviews(self, from_h: float, to_h: float, *off: HeatOff, now_h: float = 24) -> dict[str, PlaceReview]:
        RollUps(self.journal).run()
        with self.journal.read() as conn:
            air = AirChannels(self.site)
            air.load(conn)
            occupancy = Occupancy(register.clutches(conn), Places(self.site), self.profiles)
            span = Span(*(START_MS + round(each * H) for each in (from_h, to_h)))
            now_ms = START_MS + round(now_h * H)
            found = place_reviews(conn, self.site, air, occupancy, BRIDGE_MS, span, now_ms, off)
        return {each.place: each for each in found}


@pytest.fixture
def bare(tmp_path: Path) -> Iterator[Outage]:
    """A journal with nothing in it."""
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Outage(journal, tmp_path / "site", BOX_PROBE)


@pytest.fixture
def outage(bare: Outage) -> Outage:
    """Twelve hours, of which eight had no mains: from 28 °C by Newton's law with 4 h to a room of 20 °C.

    The probe in the box was silent for all of the time, and the probe in the room was not.
    """
    found = bare
    found.put(ROOM, (0, 20), (12, 20))
    found.put(AIR, (0, 28), (2, 28))
    found.put(AIR, (10, 20 + 8 * math.exp(-2)), (11, 28), (12, 28))
    found.put(HUMIDITY, (0, 85), (2, 85))
    found.put(HUMIDITY, (10, 85), (12, 85))
    found.know(4, 0.1)
    found.enter("north/upper/N1")
    return found


def limit(review: PlaceReview, kind: LimitKind) -> LimitReview:
    return next(each for each in review.limits if each.kind is kind)


def test_an_outage_is_told_with_its_readings_and_an_interval_that_holds_newtons_law(outage: Outage) -> None:
    """28 to 25 °C takes 4 ln(8/5) = 1.880 h, so it was below for 6.12 h of the gap; by hand, as is what follows.

    At 10:00 it is at 21.08 °C, and rises to 28 °C in an hour: below 25 °C for 3.92/6.92 of it.
    """
    zone = outage.reviews(0, 12, LOST)["north/upper"]
    assert (zone.name, zone.channel, zone.own_probe) == ("North cabinet, upper shelf", AIR, True)
    (gap,) = zone.gaps
    assert gap.kind is GapKind.HEAT_OFF
    assert gap.before == Known(START_MS + 2 * H, 28.0)
    assert gap.after is not None
    assert gap.after == pytest.approx((START_MS + 10 * H, 20 + 8 * math.exp(-2)))
    assert zone.lowest == gap.after
    assert zone.highest is not None
    assert zone.highest.temperature_c == 28
    assert (zone.measured_ms, zone.other_ms, zone.gap_ms) == (4 * H, 0, 8 * H)
    low = limit(zone, LimitKind.LOW)
    true_h = 8 - 4 * math.log(8 / 5) + (25 - 20 - 8 * math.exp(-2)) / (8 - 8 * math.exp(-2))
    assert low.verdict is Verdict.OUT
    assert low.outside_ms.low / H < true_h < low.outside_ms.high / H
    # As a best estimate the air is a sixth of the way to the room at once, so 25 °C is passed after 4 ln(6.667/5) h.
    assert low.outside_ms.best is not None
    assert low.outside_ms.best / H == pytest.approx(true_h + 4 * math.log(6 / 5), abs=0.01)
    assert limit(zone, LimitKind.LETHAL_LOW).verdict is Verdict.OUT
    assert limit(zone, LimitKind.LETHAL_HIGH).verdict is Verdict.IN
    assert zone.verdict is Verdict.OUT
    assert LOST.evidence in gap.reason


def test_without_evidence_the_upper_side_is_open(outage: Outage) -> None:
    zone = outage.reviews(0, 12)["north/upper"]
    assert zone.gaps[0].kind is GapKind.NOBODY_KNOWS
    assert limit(zone, LimitKind.LETHAL_HIGH).verdict is Verdict.UNKNOWN


def test_evidence_of_another_cabinet_says_nothing_here(outage: Outage) -> None:
    elsewhere = HeatOff(LOST.span, "south", LOST.evidence)
    assert outage.reviews(0, 12, elsewhere)["north/upper"].gaps[0].kind is GapKind.NOBODY_KNOWS


def test_a_box_whose_probe_is_silent_is_told_by_its_zone(outage: Outage) -> None:
    box = outage.reviews(0, 12, LOST)["north/upper/N1"]
    assert (box.channel, box.own_probe, box.lowest) == (BOX, True, None)
    assert [gap.kind for gap in box.gaps] == [GapKind.OTHER_PROBE, GapKind.HEAT_OFF, GapKind.OTHER_PROBE]
    assert (box.measured_ms, box.other_ms, box.gap_ms) == (0, 4 * H, 8 * H)
    assert limit(box, LimitKind.LOW).outside_ms.high > 0


def test_nothing_is_estimated_of_humidity(outage: Outage) -> None:
    """85 % where it was read, eight hours without a reading: within 80 to 100 %, as far as anybody knows."""
    outage.want_humidity(80, 100)
    zone = outage.reviews(0, 12, LOST)["north/upper"]
    assert zone.humidity_channel == HUMIDITY
    assert [gap.span for gap in zone.humidity_gaps] == [Span(START_MS + 2 * H, START_MS + 10 * H)]
    assert zone.lowest_humidity == zone.highest_humidity == Known(START_MS, 85.0)
    low = limit(zone, LimitKind.HUMIDITY_LOW)
    assert (low.verdict, low.outside_ms, low.degree_hours) == (Verdict.UNKNOWN, (0, None, 8 * H), None)
    # The box has no probe of humidity, so all of the time is open.
    assert limit(outage.reviews(0, 12)["north/upper/N1"], LimitKind.HUMIDITY_LOW).outside_ms == (0, None, 12 * H)


def test_air_that_was_too_dry_is_out_for_as_long_as_it_was_read(outage: Outage) -> None:
    outage.want_humidity(90, 100)
    low = limit(outage.reviews(0, 12)["north/upper"], LimitKind.HUMIDITY_LOW)
    assert (low.verdict, low.outside_ms) == (Verdict.OUT, (4 * H, None, 12 * H))


def test_a_clutch_is_exposed_to_the_same_courses(outage: Outage) -> None:
    with outage.journal.read() as conn:
        air = AirChannels(outage.site)
        air.load(conn)
        records = PlaceRecords(conn, outage.site, air, BRIDGE_MS, [LOST])
        record = records.temperature("north/upper", START_MS, START_MS + 12 * H)
        courses = records.courses("north/upper", START_MS, START_MS + 12 * H)
    assert [course.is_gap for course in courses] == [False, True]
    above = Tolerance(figure_c=24.0, is_above=False, hours=0.0, within_h=None, source="invented")
    found = exposure(above, courses, Period(START_MS, START_MS + 12 * H))
    assert [each and each * H for each in found.hours] == pytest.approx(
        list(record.time_beyond_ms(24.0, record.span, above=False)), abs=10
    )


def test_the_halves_of_a_period_add_up_to_the_whole(outage: Outage) -> None:
    whole, *halves = (outage.reviews(*hours, LOST)["north/upper"] for hours in ((0, 12), (0, 5), (5, 12)))
    for kind in (LimitKind.LOW, LimitKind.LETHAL_LOW):
        parts = [limit(half, kind) for half in halves]
        for name in ("low", "best", "high"):
            expected = getattr(limit(whole, kind).outside_ms, name)
            assert sum(getattr(part.outside_ms, name) for part in parts) == pytest.approx(expected, abs=10)


def test_a_period_without_any_reading_is_open_and_says_so(bare: Outage) -> None:
    bare.enter("north/upper/N1")
    zone = bare.reviews(0, 12)["north/upper"]
    assert (zone.lowest, zone.gap_ms, zone.verdict) == (None, 12 * H, Verdict.UNKNOWN)
    assert limit(zone, LimitKind.LOW).outside_ms == (0, None, 12 * H)


def test_a_limit_holds_from_when_the_eggs_came(bare: Outage) -> None:
    bare.put(AIR, (0, 24), (12, 24))
    bare.enter("north/upper/N1", from_h=4)
    low = limit(bare.reviews(0, 12)["north/upper"], LimitKind.LOW)
    assert [(each.span, each.value) for each in low.in_force] == [(Span(START_MS + 4 * H, START_MS + 12 * H), 25.0)]
    assert low.outside_ms == pytest.approx((8 * H,) * 3)
    assert low.degree_hours == pytest.approx((8.0,) * 3)


def test_an_empty_cabinet_has_no_limits_and_no_verdict_of_its_own(bare: Outage) -> None:
    bare.put(AIR, (0, 24), (12, 24))
    zone = bare.reviews(0, 12)["north/upper"]
    assert zone.limits == ()
    assert zone.lowest == Known(START_MS, 24.0)


def test_a_heater_that_was_seen_at_work_bounds_how_hot_it_can_have_been(bare: Outage) -> None:
    """Up by 6 K in the hour before, 1 K every ten minutes and more: so no more than 1.25 times that in an hour."""
    bare.put(AIR, (0, 22), (1, 22), (2, 28), (3, 28))
    bare.put(AIR, (4, 28), (6, 28))
    bare.enter()
    (gap,) = bare.reviews(2.5, 6)["north/upper"].gaps
    assert 1.25 * 5 < float(gap.high_c.max()) - 28 < 1.25 * 12
    assert "fastest rise" in gap.reason


def test_a_room_that_was_measured_before_and_behind_stands_for_one_that_was_never_stated(tmp_path: Path) -> None:
    """18 °C on both sides, taken as ±3 K in between: two of these below it."""
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        bare = Outage(journal, tmp_path / "site", stated_room=False)
        for from_h, to_h in ((0, 2), (10, 12)):
            bare.put(ROOM, (from_h, 18), (to_h, 18))
            bare.put(AIR, (from_h, 28), (to_h, 28))
        (gap,) = bare.reviews(0, 12)["north/upper"].gaps
    assert gap.coldest_c.low == pytest.approx(18 - 2 * 3, abs=0.1)


def test_without_a_room_nothing_below_is_known(tmp_path: Path) -> None:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        bare = Outage(journal, tmp_path / "site", stated_room=False)
        bare.put(AIR, (0, 28), (2, 28))
        bare.put(AIR, (10, 28), (12, 28))
        (gap,) = bare.reviews(0, 12)["north/upper"].gaps
    assert gap.coldest_c.low == -math.inf
    assert "Unknown below" in gap.reason


@pytest.mark.parametrize("hours", [(6, 6), (6, 5), (25, 26)])
def test_a_period_that_has_no_past_is_refused(bare: Outage, hours: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="no length that has passed"):
        bare.reviews(*hours)
