"""Readings as they were stored, for programs: with what a calibration says of them, and where there can be none."""

from collections.abc import Iterator

import pytest

from config.words import Quantity
from daemon.storage import samples
from daemon.storage.calibrations import append
from sensors.calibration import Record
from sensors.calibration_line import Line, Point
from sensors.reading import ChannelKey, Quality, Reading
from tests.dashboards.asking import ask
from tests.support.charted import AIR, DAY_MS, DOOR, HOUR_MS, HUMIDITY, NOW_MS, Charted, charted

CHANGE_MS = NOW_MS - 20 * HOUR_MS
GONE = ChannelKey("old-air/t", "old-air", "t", Quantity.AIR_TEMPERATURE)
NEVER = {"from_ms": 0, "gain": 1.0, "shift": 0.0}
"""From 1 January 1970 on a reading means what the probe said."""


def calibration(channel: str) -> Record:
    line = Line(1.0, 2.0, (Point(30.0, 28.0, 0.1, 0.1, "a reference"),), 0.05, 0.1)
    return Record(channel, CHANGE_MS, line, "one-point", CHANGE_MS, None, CHANGE_MS, "kim", "")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Charted]:
    """The site states a door and a thermometer that was calibrated; the journal has one more, calibrated too."""
    with charted(tmp_path_factory.mktemp("readings"), days=2) as opened:
        said = Reading(GONE.channel, CHANGE_MS + HOUR_MS, CHANGE_MS + HOUR_MS, 27.5, Quality.GOOD)
        opened.journal.write(lambda conn: samples.append(conn, samples.channel_ids(conn, [GONE]), [said]))
        for each in (calibration(AIR), calibration(GONE.channel)):
            opened.journal.write(lambda conn, one=each: append(conn, one))  # type: ignore[misc]
        yield opened


@pytest.mark.parametrize(
    ("channel", "unit", "corrections"),
    [
        (AIR, "Cel", [NEVER, {"from_ms": CHANGE_MS, "gain": 1.0, "shift": 2.0}]),
        (HUMIDITY, "%RH", [NEVER]),
        # It is open or closed: there is nothing to correct.
        (DOOR, "/", []),
        (GONE.channel, "Cel", []),
    ],
)
def test_what_a_reading_means_is_said_beside_what_the_probe_said(
    site: Charted, channel: str, unit: str, corrections: list[dict[str, float]]
) -> None:
    with site.journal.read() as conn:
        stored = conn.execute(
            "SELECT measured_at_ms, value FROM sample JOIN channel USING (channel_id) WHERE channel = ?"
            " AND measured_at_ms >= ? ORDER BY measured_at_ms",
            (channel, NOW_MS - DAY_MS),
        ).fetchall()
    found = ask(site.app, f"/api/readings?channel={channel}").json()
    assert list(zip(found["readings"]["measured_at_ms"], found["readings"]["value"], strict=True)) == stored
    assert stored
    assert (found["unit"], found["corrections"]) == (unit, corrections)
