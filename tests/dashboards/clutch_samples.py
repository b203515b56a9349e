"""A made-up record of one clutch for the tests of its page: literal values, nothing computed by the program."""

import json
from dataclasses import replace

from config.words import Quantity
from daemon.alarms.limits import Limits
from daemon.clutch_record_values import (
    Climate,
    ClimateCell,
    ClutchEvent,
    ClutchRecord,
    HeatPoint,
    LimitSpan,
    OtherClutch,
    Stay,
)
from daemon.development.window import NoWindow
from daemon.storage.clutch_history import Change
from tests.dashboards import samples
from tests.dashboards.samples import DAY_MS, MINUTE_MS, NOW_MS

SET_UP_MS = NOW_MS - 24 * DAY_MS
HOUR_MS = 60 * MINUTE_MS


def cells(low: float, high: float, gap_on_day: int | None = 10) -> tuple[ClimateCell, ...]:
    """A cell a day, with a day without readings."""
    return tuple(
        ClimateCell(SET_UP_MS + day * DAY_MS, SET_UP_MS + (day + 1) * DAY_MS, low, (low + high) / 2, high)
        for day in range(24)
        if day != gap_on_day
    )


def temperature() -> Climate:
    """Three days outside, with its limits over the whole time."""
    span = LimitSpan(SET_UP_MS, NOW_MS, 26.0, 30.0, None, 34.0)
    return Climate(Quantity.AIR_TEMPERATURE, cells(27.0, 31.0), (span,), ("north-air",), 552.0, 24.0, 0.0, 12.5)


def humidity() -> Climate:
    """No probe."""
    why = "No humidity: no probe measures it where this clutch lay."
    return Climate(Quantity.RELATIVE_HUMIDITY, (), (), (), 0.0, 576.0, 0.0, 0.0, why_empty=why)


def heat() -> tuple[HeatPoint, ...]:
    """Up to 5,012 °C·h, with an interval that widens."""
    return (
        HeatPoint(NOW_MS - 25 * DAY_MS, 0.0, 0.0, 0.0),
        HeatPoint(SET_UP_MS, 20.0, 60.0, 100.0),
        HeatPoint(NOW_MS, 4_890.2, 5_012.4, 5_130.9),
    )


def record(label: str = "Ada 2026-1") -> ClutchRecord:
    """Make a clutch that was moved once, with an alarm that ended, one that goes on, a round and two changes."""
    moved_ms = SET_UP_MS + 5 * DAY_MS
    entered = {"label": label, "egg_count": 2, "note": "pale <b>shells</b>", "before_c": 20.0}
    return ClutchRecord(
        site_name="Reptile room",
        time_zone="Europe/Berlin",
        fahrenheit=False,
        now_ms=NOW_MS,
        shown_ms=NOW_MS,
        closed_at_ms=None,
        clutch=samples.clutch(label),
        place_name="North cabinet, upper shelf, box N1",
        note="pale <b>shells</b>",
        population=None,
        heat=heat(),
        limits=Limits(None, 26.0, 30.0, 34.0, 75.0, 95.0),
        temperature=temperature(),
        humidity=humidity(),
        stays=(
            Stay("north/upper/N2", "North cabinet, upper shelf, box N2", SET_UP_MS, moved_ms),
            Stay("north/upper/N1", "North cabinet, upper shelf, box N1", moved_ms, None),
        ),
        events=(
            ClutchEvent(SET_UP_MS, "set-up", "Set up in North cabinet, upper shelf, box N2"),
            ClutchEvent(moved_ms, "move", "Moved to North cabinet, upper shelf, box N1", "more room"),
            ClutchEvent(moved_ms + DAY_MS, "round", "Round in North cabinet, by Ana", "", moved_ms + DAY_MS + HOUR_MS),
            ClutchEvent(moved_ms + 3 * DAY_MS, "alarm", "Alarm: too warm", "", moved_ms + 3 * DAY_MS + 3 * HOUR_MS),
            ClutchEvent(NOW_MS - HOUR_MS, "alarm", "Alarm: too warm", "31.2 is above 30", None, goes_on=True),
        ),
        alarms_left_out=0,
        changes=(
            Change(SET_UP_MS, "Ana", "add", "", "{}", json.dumps(entered)),
            Change(
                moved_ms,
                "Ben",
                "move",
                "more room",
                json.dumps({"place": "north/upper/N2", "from_ms": SET_UP_MS}),
                json.dumps({"place": "north/upper/N1", "from_ms": moved_ms}),
            ),
        ),
    )


def closed() -> OtherClutch:
    """Make a clutch that hatched ten days ago."""
    clutch = replace(
        samples.clutch("Old one"), clutch_id=9, set_up_ms=NOW_MS - 90 * DAY_MS, window=NoWindow("It is closed.")
    )
    return OtherClutch(clutch, "North cabinet, upper shelf, box N2", NOW_MS - 10 * DAY_MS)
