"""Pages and alerts show corrected values, and say how sure they are and when a probe was calibrated."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from config.places import Places
from config.site import Site, load_site
from config.words import AlarmKind, Quantity
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.alarms.delivery import MessageStatus
from daemon.alerts import AlertWriter
from daemon.occupancy import Occupancy
from daemon.storage import calibrations
from sensors.calibration import Record
from sensors.calibration_line import Line, Point, one_point
from sensors.reading import ChannelKey, Quality
from tests.daemon.kept import AIR, BOX, START_MS, Kept, at, steady
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.tables import read_table

UNCERTAINTIES = {
    (row["temperature_c"], row["relative_humidity_pct"]): row for row in read_table("dewpoint-uncertainty-check.csv")
}


def record(channel: str, line: Line, from_ms: int, due_ms: int | None = None) -> Record:
    return Record(channel, from_ms, line, "one-point", from_ms, due_ms, from_ms, "kim", "")


def shift(channel: str, by: float, from_ms: int = START_MS, due_ms: int | None = None) -> Record:
    quantity = Quantity.AIR_TEMPERATURE if channel == AIR or channel.endswith("air") else Quantity.RELATIVE_HUMIDITY
    value = 29.0 if quantity.is_temperature else 85.0
    point = Point(value + by, value, 0.05, 0.05, "reference")
    return record(channel, one_point(quantity, point, 0.5, 0.05, 0.0), from_ms, due_ms)


def enter(kept: Kept, *records: Record) -> None:
    for each in records:
        kept.journal.write(lambda conn, one=each: calibrations.append(conn, one))  # type: ignore[misc]


def test_a_page_is_given_the_corrected_value_with_age_due_date_and_uncertainty(kept: Kept) -> None:
    kept.put(at(START_MS + DAY_MS, {AIR: 28.4}))
    enter(kept, shift(AIR, -0.3, START_MS, START_MS + 100 * DAY_MS))
    now = kept.channels(START_MS + DAY_MS)[AIR]
    assert now.value == pytest.approx(28.1)
    assert (now.calibrated_ms, now.calibration_due_ms) == (START_MS, START_MS + 100 * DAY_MS)
    # By hand: reference, its reading and this one 0.05 each, and 0.6 K away from the point a little of ±0.5 K in 20 K.
    by_hand = math.hypot(0.05, 0.05, 0.05, 0.6 * 0.5 / math.sqrt(3) / 20)
    assert now.standard_uncertainty == pytest.approx(by_hand)


def test_a_channel_that_was_never_calibrated_is_shown_as_said_and_as_sure_as_stated(kept: Kept) -> None:
    kept.put(at(START_MS, {AIR: 28.4}))
    now = kept.channels(START_MS)[AIR]
    assert (now.value, now.calibrated_ms, now.calibration_due_ms) == (28.4, None, None)
    assert now.standard_uncertainty == pytest.approx(0.5 / math.sqrt(3))
    assert kept.channels(START_MS)["box-s1/air"].standard_uncertainty is None


def test_a_reading_from_before_the_date_of_a_calibration_stays_as_it_was(kept: Kept) -> None:
    kept.put(at(START_MS - 1, {AIR: 28.4}))
    enter(kept, shift(AIR, -0.3))
    assert kept.channels(START_MS)[AIR].value == 28.4
    enter(kept, shift(AIR, -0.3, START_MS - DAY_MS))
    assert kept.channels(START_MS)[AIR].value == pytest.approx(28.1)


def test_a_suspect_reading_is_shown_as_the_probe_said_it(kept: Kept) -> None:
    enter(kept, shift(AIR, -0.3, START_MS - DAY_MS))
    kept.put(at(START_MS, {AIR: 85.0}, Quality.FAULT_VALUE))
    assert kept.channels(START_MS)[AIR].value == 85.0


def test_dew_point_and_margin_follow_from_corrected_values(kept: Kept) -> None:
    """The same air as one that reads right: 30 °C, 85 %, lid 28 °C."""
    kept.put(at(START_MS, {"box-s1/air": 30.4, "box-s1/rh": 82.0, "box-s1/lid": 28.0}))
    kept.put(at(START_MS, {AIR: 30.0, "north-air/rh": 85.0}))
    enter(kept, shift("box-s1/air", -0.4), shift("box-s1/rh", 3.0))
    climates = kept.climates(START_MS)
    row = UNCERTAINTIES["30", "85"]
    for place in (BOX, "north/upper"):
        assert climates[place].air_temperature_c == pytest.approx(30.0)
        assert climates[place].relative_humidity_pct == pytest.approx(85.0)
        assert climates[place].dew_point_c == pytest.approx(float(row["dew_point_c"]), abs=6e-5), row["source"]
    assert climates[BOX].margin_k == pytest.approx(28.0 - float(row["dew_point_c"]), abs=6e-5)


@pytest.mark.parametrize("row", [row for row in UNCERTAINTIES.values() if row["temperature_c"] == "30"])
def test_the_dew_point_is_as_sure_as_both_probes_are(kept: Kept, row: dict[str, str]) -> None:
    # Uncalibrated: ±0.5 K and ±3 %, rectangles, with the slopes of the table; six parts in ten thousand of rounding.
    kept.put(at(START_MS, {"box-s1/air": 30.0, "box-s1/rh": float(row["relative_humidity_pct"])}))
    by_hand = math.hypot(float(row["slope_k_per_k"]) * 0.5, float(row["slope_k_per_pct"]) * 3.0) / math.sqrt(3)
    found = kept.climates(START_MS)[BOX].dew_point_u_k
    assert found == pytest.approx(by_hand, rel=1e-3), row["source"]
    enter(kept, shift("box-s1/rh", 0.0))
    surer = kept.climates(START_MS)[BOX].dew_point_u_k
    assert surer is not None
    assert surer < by_hand


class Alerts:
    """What an alert of the first probe would say."""

    def __init__(self, kept: Kept, site: Site) -> None:
        self._kept = kept
        places = Places(site)
        self._writer = AlertWriter(site, places, MessageStatus.ACTUAL)
        self._occupancy = Occupancy([], places, kept.profiles)

    def of(self, change: Transition, now_ms: int) -> tuple[float | None, float | None]:
        """The value and the rate per hour that are told."""
        with self._kept.journal.read() as conn:
            facts = self._writer.facts(conn, change, self._occupancy, now_ms)
        return facts.value, facts.rate_per_h


@pytest.fixture
def alerts(kept: Kept, tmp_path: Path) -> Alerts:
    return Alerts(kept, load_site(tmp_path / "site"))


def raised(kind: AlarmKind, value: float | None, at_ms: int) -> Transition:
    key = ChannelKey(AIR, "north-air", "air", Quantity.AIR_TEMPERATURE)
    return Transition(
        kind=kind,
        change=Change.RAISED,
        channel=key,
        place="north/upper",
        at_ms=at_ms,
        since_ms=at_ms,
        occurrence="1",
        value=value,
        limit=30.0,
        peak=value,
        reason="",
        subject=AIR,
        told=True,
        still=(),
    )


def test_an_alert_tells_the_corrected_newest_value(kept: Kept, alerts: Alerts) -> None:
    kept.put(at(START_MS, {AIR: 28.4}))
    enter(kept, shift(AIR, -0.3))
    value, _ = alerts.of(raised(AlarmKind.NO_DATA, None, START_MS + 60 * MINUTE_MS), START_MS + 60 * MINUTE_MS)
    assert value == pytest.approx(28.1)


def test_a_rate_is_stretched_by_the_gain_and_a_calibration_that_begins_is_no_change_of_the_air(
    kept: Kept, alerts: Alerts
) -> None:
    end_ms = START_MS + 20 * MINUTE_MS
    kept.put(steady(AIR, 30.0, START_MS, end_ms - 5 * MINUTE_MS))
    kept.put(at(end_ms, {AIR: 31.0}))
    stretched = shift(AIR, 0.0, START_MS + 12 * MINUTE_MS)
    line = replace(stretched.line, gain=1.05, shift=-2.0)
    enter(kept, replace(stretched, line=line))
    # One degree of the probe in 20 minutes is 3 an hour, of the air 3.15.
    value, rate_per_h = alerts.of(raised(AlarmKind.TEMPERATURE_HIGH, 30.55, end_ms), end_ms)
    assert value == 30.55
    assert rate_per_h == pytest.approx(3.15)
