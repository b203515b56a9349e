"""Which boxes come first, and why: cases made by hand. Order and thresholds are those of daemon/rounds/need.py."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from daemon.clutches.eggs import EggCounts
from daemon.development.window import HatchWindow
from daemon.rounds.need import CareTimes, Need, NeedClass, need_of
from daemon.rounds.values import EggsDone, EggsSeen, Lid, Medium, Stop
from daemon.rounds.walk import Walk, WalkBox
from tests.rounds.bench import DAY_MS, MOULD, START_MS
from tests.rounds.sheets import clutch, found, humidity, sheet, temperature, water

CARE = CareTimes(round_every_days=7, near_pipping_days=7)
MADRID = ZoneInfo("Europe/Madrid")


def need(**changes: object) -> Need:
    return need_of(sheet(**changes), CARE, MADRID)


def kinds(**changes: object) -> list[NeedClass]:
    return [each.kind for each in need(**changes).reasons]


def of_water(**changes: object) -> list[bool]:
    return [each.of_water for each in need(**changes).reasons]


def window(days: float) -> HatchWindow:
    earliest_ms = START_MS + round(days * DAY_MS)
    likely_ms, latest_ms = earliest_ms + 3 * DAY_MS, earliest_ms + 6 * DAY_MS
    return HatchWindow(earliest_ms, likely_ms, latest_ms, 1.8, 0.9, (), "fit", "", "ahead")


def test_a_box_that_was_well_two_days_ago_needs_nothing() -> None:
    assert need(last=found()).kind is NeedClass.NOTHING
    assert need(humidity=humidity(92), temperature=temperature(), water_on_lid=water(1)).reasons == ()


def test_each_reason_on_its_own() -> None:
    assert kinds(dry_out="Add water by Thursday", dry_days=3.0) == [NeedClass.DRYING]
    assert kinds(dry_out="Add water by Thursday", dry_days=7.5) == []
    assert kinds(last=found(medium=Medium.DRY)) == [NeedClass.DRYING]
    assert kinds(last=found(medium=Medium.DRY, water_ml=30.0)) == []
    assert kinds(last=found(lid=Lid.DRIPPING)) == [NeedClass.DRIPPING]
    assert kinds(last=found(lid=Lid.DRIPPING, wiped=True)) == [NeedClass.LAST_BAD]
    assert kinds(last=found(lid=Lid.BEADS)) == [NeedClass.LAST_BAD]
    # 12 h in 48 h are 6 h a day, the threshold; 11 h are less.
    assert kinds(water_on_lid=water(12)) == [NeedClass.DRIPPING]
    assert kinds(water_on_lid=water(11)) == []
    assert kinds(water_on_lid=water(1, stays_wet=True)) == [NeedClass.DRIPPING]
    assert kinds(clutch=clutch(counts=EggCounts(8, 6, watch=2), watched=("4", "B"))) == [NeedClass.ON_WATCH]
    assert kinds(clutch=clutch(window=window(7))) == [NeedClass.NEAR_PIPPING]
    assert kinds(clutch=clutch(window=window(7.1))) == []
    assert kinds(clutch=clutch(window=window(-3), counts=EggCounts(8, 0, hatched=8))) == []
    assert kinds(clutch=clutch(counts=EggCounts(8, 7, pipped=1))) == [NeedClass.NEAR_PIPPING]
    assert kinds(temperature=temperature(below=1.0)) == [NeedClass.OUTSIDE]
    assert kinds(temperature=temperature(below=0.9)) == []
    assert kinds(last=found(medium=Medium.WET)) == [NeedClass.LAST_BAD]
    assert kinds(last_looked_ms=START_MS - 8 * DAY_MS) == [NeedClass.OVERDUE]
    assert kinds(last_looked_ms=START_MS - 7 * DAY_MS) == []
    assert kinds(last_looked_ms=None, since_ms=START_MS - 9 * DAY_MS) == [NeedClass.OVERDUE]


def test_eggs_that_were_lost_last_time_are_a_reason() -> None:
    last = replace(found(), eggs=(EggsDone(EggsSeen(MOULD, ("3",)), ("3",), (1,)),))
    assert need(last=last).words == ("1 egg lost at the last look",)
    refused = replace(found(), eggs=(EggsDone(EggsSeen(MOULD, ("3",)), refused="is hatched already"),))
    assert need(last=refused).words == ("what was said of eggs last time was not taken: look again",)


def test_the_words_say_what_and_how_much() -> None:
    many = need(
        dry_out="Add water by Thursday",
        dry_days=2.0,
        water_on_lid=water(24),
        clutch=clutch(counts=EggCounts(8, 6, watch=2), watched=("4", "B"), window=window(2)),
        temperature=temperature(above=5.0),
    )
    # 1 780 000 000 s is 28 May 2026 in Madrid; two days on is 30 May, and six more 5 June.
    assert many.words == (
        "add water by Thursday",
        "water on the lid for about 12 h a day",
        "2 eggs on watch: 4 and B",
        "near pipping: 30 May to 5 Jun",
        "too warm for 5 h since the last look",
    )


def boxes(*needs: Need) -> Walk:
    stops = [Stop(f"a/b/{number}", "", "", "", "a", "A", number) for number in range(len(needs))]
    return Walk((), tuple(WalkBox(stop, 1, one) for stop, one in zip(stops, needs, strict=True)))


def test_classes_first_then_the_sooner_then_as_they_stand() -> None:
    walk = boxes(
        need(),
        need(last_looked_ms=START_MS - 9 * DAY_MS),
        need(dry_out="b", dry_days=5.0),
        need(clutch=clutch(counts=EggCounts(8, 7, watch=1))),
        need(dry_out="a", dry_days=1.0),
        need(last_looked_ms=START_MS - 20 * DAY_MS),
        need(clutch=None),
        need(),
        need(water_on_lid=water(40)),
    )
    assert [int(each.stop.key[-1]) for each in walk.by_need] == [4, 2, 8, 3, 5, 1, 0, 7, 6]
    assert [int(each.stop.key[-1]) for each in walk.short] == [2, 3, 4, 5, 8]


def test_a_short_round_has_no_box_that_needs_nothing() -> None:
    assert boxes(need(), need(), need(clutch=None)).short == ()


def test_a_need_that_is_not_about_water_is_not_marked_as_one() -> None:
    assert of_water(temperature=temperature(below=3.0)) == [False]
    assert of_water(temperature=temperature(below=3.0), humidity=humidity(99, above=5.0)) == [True, False]
    assert of_water(last=found(medium=Medium.DRY)) == [True]
    assert of_water(last=found(medium=Medium.WET)) == [True]
    assert of_water(last=found(lid=Lid.BEADS)) == [True]
    assert of_water(water_on_lid=water(12)) == [True]
    assert of_water(dry_out="Add water by Thursday", dry_days=3.0) == [True]
    assert of_water(clutch=clutch(counts=EggCounts(8, 6, watch=2), watched=("4", "B"))) == [False]
    assert of_water(last_looked_ms=START_MS - 8 * DAY_MS) == [False]
