"""A box that is too dry already comes before one that will be: no trend tells of it any more."""

from zoneinfo import ZoneInfo

from daemon.clutches.eggs import EggCounts
from daemon.rounds.need import CareTimes, Need, NeedClass, need_of
from daemon.rounds.walk import WalkBox
from tests.rounds.bench import DAY_MS, HOUR_MS, S1, START_MS, Bench, entry
from tests.rounds.sheets import clutch, humidity, sheet
from tests.rounds.test_box_sheets import AIR, RH, put, rolled
from tests.rounds.test_box_sheets import sheet as shown

CARE, ZONE = CareTimes(7.0, 5.0), ZoneInfo("Europe/Madrid")


def need(**changes: object) -> Need:
    return need_of(sheet(**changes), CARE, ZONE)


def test_too_dry_already_ranks_before_dry_in_some_days_and_before_eggs_on_watch() -> None:
    dry = need(humidity=humidity(60.0, below=40.0, ends_below=True))
    soon = need(humidity=humidity(85.0), dry_days=0.5, dry_out="Add water today")
    watched = need(clutch=clutch(counts=EggCounts(8, 7, watch=1), watched=("3",)))
    assert dry.kind is NeedClass.DRYING
    assert sorted([watched, soon, dry], key=lambda each: each.rank) == [dry, soon, watched]
    assert "too dry already" in dry.words[0]


def test_it_is_the_box_itself_and_its_newest_state_that_count() -> None:
    assert need(humidity=humidity(90.0, below=40.0)).kind is NeedClass.OUTSIDE
    assert need(humidity=humidity(90.0, below=0.3, ends_below=True)).kind is NeedClass.NOTHING
    assert need(humidity=humidity(60.0, in_box=False, below=40.0, ends_below=True)).kind is NeedClass.OUTSIDE


def test_what_was_measured_says_that_it_is_too_dry_now(bench: Bench) -> None:
    """The ratsnake wants at least 75 % RH or so: 60 of 72 hours at 50 %."""
    bench.clutch(place=S1, days_ago=3)
    put(bench, AIR, 28.0, START_MS - 3 * DAY_MS, START_MS)
    put(bench, RH, 90.0, START_MS - 3 * DAY_MS, START_MS - 60 * HOUR_MS)
    put(bench, RH, 50.0, START_MS - 60 * HOUR_MS, START_MS)
    found = shown(rolled(bench)).humidity
    assert found is not None
    assert (found.ends_below, round(found.hours_below)) == (True, 60)
    [walked] = [each for each in _walk(bench) if each.stop.key == S1]
    assert walked.need.kind is NeedClass.DRYING
    summed = bench.desk.summary(1)
    assert summed is not None
    [sooner] = [each for each in summed.sooner if each.stop.key == S1]
    assert any("too dry when the round began" in why for why in sooner.why)
    bench.enter(1, entry(1, S1, water_ml=60.0))
    summed = bench.desk.summary(1)
    assert summed is not None
    assert not [why for each in summed.sooner for why in each.why if "too dry" in why]


def _walk(bench: Bench) -> tuple[WalkBox, ...]:
    bench.start("south")
    bench.now_ms += 60_000
    return bench.desk.walk().boxes
