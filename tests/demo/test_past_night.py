"""The night before the demo: what is true of it is known, so the account of it can be held against that."""

from collections.abc import Iterator
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.clock import as_datetime, as_ms
from daemon.demo import scenario
from daemon.demo.past_night import AFTER_MS, BACK, LOST, last_night
from daemon.review.account import Review
from daemon.review.course import GapKind
from daemon.review.values import Cause, FactKind, Verdict
from daemon.review_desk import ReviewDesk
from sensors.simulation.world import SimulatedSite
from tests.support.demo_site import BRIDGE_S, NOW_MS, WATCHED_MS, DemoSite, demo_site

MINUTE_MS = 60_000
DAY_MS = 86_400_000
LISBON = ZoneInfo("Europe/Lisbon")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DemoSite]:
    with demo_site(tmp_path_factory.mktemp("night")) as made:
        yield made


@pytest.fixture(scope="module")
def review(site: DemoSite) -> Review:
    desk = ReviewDesk(site.journal, site.site, site.stated.profiles, BRIDGE_S, lambda: site.now_ms)
    return desk.review_of(1)


@given(st.datetimes(datetime(2026, 3, 1), datetime(2027, 3, 1)))  # noqa: DTZ001 - the zone is added below
def test_whenever_the_demo_starts_its_night_is_over_and_not_long_ago(now: datetime) -> None:
    now_ms = as_ms(now.replace(tzinfo=UTC))
    night = last_night(now_ms, "Europe/Lisbon")
    assert night.lost_ms < night.off_ms < night.back_ms < night.up_ms < night.watched_until_ms <= now_ms
    assert now_ms - night.watched_until_ms < 25 * 60 * MINUTE_MS
    assert as_datetime(night.lost_ms).astimezone(LISBON).time() == LOST
    assert as_datetime(night.back_ms).astimezone(LISBON).time() == BACK
    assert night.watched_until_ms - night.up_ms == AFTER_MS


def test_the_incident_is_found_with_its_cause_and_no_other_night_is(review: Review, site: DemoSite) -> None:
    incident, night = review.incident, site.past.night
    assert incident is not None
    assert incident.cause is Cause.MAINS_LOST
    kinds = {fact.kind for fact in incident.facts}
    assert kinds >= {FactKind.MAINS_ABSENT, FactKind.MACHINE_RESTARTED, FactKind.SITE_GAP, FactKind.EXCURSION}
    assert incident.needs_review
    [down] = [fact for fact in incident.facts if fact.kind is FactKind.MACHINE_RESTARTED]
    assert (down.span.from_ms, down.span.to_ms) == (night.off_ms, night.up_ms)
    [mains] = [fact for fact in incident.facts if fact.kind is FactKind.MAINS_ABSENT]
    # The contact speaks every five minutes, and says so after the fact.
    assert 0 <= mains.span.from_ms - night.lost_ms <= 5 * MINUTE_MS
    assert mains.span.to_ms is not None
    assert 0 <= mains.span.to_ms - night.back_ms <= 10 * MINUTE_MS


def test_where_nobody_measured_the_interval_holds_what_was_true(review: Review, site: DemoSite) -> None:
    """Other readings of the same simulated site, which nobody heard then."""
    night = site.past.night
    world = SimulatedSite(
        site.site,
        NOW_MS - scenario.HISTORY_DAYS * DAY_MS,
        seed=scenario.SEED,
        set_points_c=scenario.SET_POINTS_C,
    )
    site.past.befall(world)
    for _ in world.readings(night.off_ms, scenario.HISTORY_EVERY_S):
        pass
    true = {
        (probe, at_ms): values["air"]
        for at_ms, probe, values in world.readings(night.up_ms, scenario.HISTORY_EVERY_S)
        if "air" in values
    }
    assert len({probe for probe, _ in true}) > 4
    looked = 0
    for account in review.places:
        place = account.review
        if not place.own_probe:
            continue
        [gap] = [gap for gap in place.gaps if gap.kind is GapKind.HEAT_OFF]
        probe = place.channel.partition("/")[0]
        moments = [at_ms for name, at_ms in true if name == probe and gap.span.from_ms < at_ms < gap.end_ms]
        low, high = (np.interp(moments, gap.at_ms, curve) for curve in (gap.low_c, gap.high_c))
        values = np.array([true[probe, at_ms] for at_ms in moments])
        # A reading has noise of its own, 0.1 K (project choice of the estimate); about 95 of 100 lie inside.
        inside = (values >= low - 0.1) & (values <= high + 0.1)
        assert inside.mean() >= 0.9, place.name
        looked += len(moments)
    assert looked > 200


def test_what_is_certain_was_measured_and_what_nobody_measured_is_not_called_kept(review: Review) -> None:
    verdicts = {each.review.place: each.review.verdict for each in review.places}
    assert verdicts["warm/shelf"] is Verdict.OUT
    assert Verdict.UNKNOWN in verdicts.values()
    lost = {each.review.label: each.review.heat.lost_h for each in review.clutches if each.review.heat is not None}
    assert len(lost) == len(scenario.CLUTCHES)
    assert all(each is not None and each.low <= (each.best or each.low) <= each.high for each in lost.values())
    # Nobody lost more than the hours without heat, and those until all was warm again (three hours at the most).
    assert all(each is not None and each.high < 5 + 3 for each in lost.values())


def test_somebody_was_told_before_the_machine_went_off_and_has_seen_it(review: Review, site: DemoSite) -> None:
    night = site.past.night
    [first, *_] = [line for line in review.told if "no mains" in line.words]
    assert night.lost_ms < first.made_ms < night.off_ms
    assert first.seen_by == "Ines"
    assert first.seen_ms is not None
    assert first.seen_ms < night.off_ms


def test_nothing_of_that_night_is_still_on_when_the_demo_begins(site: DemoSite) -> None:
    with site.journal.read() as conn:
        rows = conn.execute("SELECT state, created_at_ms FROM outbox WHERE created_at_ms < ?", (WATCHED_MS,)).fetchall()
    assert rows
    assert not [row for row in rows if row[0] == "waiting"]
