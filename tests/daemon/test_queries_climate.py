"""Dew point and margin in the overview: from good readings of one time, against published values."""

import pytest

from sensors.reading import Quality
from tests.daemon.kept import AIR, BOX, HOUR_MS, START_MS, Kept, at
from tests.support.household import MINUTE_MS
from tests.support.tables import read_table

DEW_POINTS = [
    row
    for row in read_table("dewpoint-check.csv")
    if row["temperature_c"] in ("25", "30") and row["kind"] in ("computed", "published")
]
LIDS = read_table("moist-air-check.csv")


@pytest.mark.parametrize("row", DEW_POINTS, ids=lambda row: f"{row['temperature_c']}C-{row['relative_humidity_pct']}")
def test_the_dew_point_of_a_box_is_the_published_one(kept: Kept, row: dict[str, str]) -> None:
    kept.put(
        at(START_MS, {"box-s1/air": float(row["temperature_c"]), "box-s1/rh": float(row["relative_humidity_pct"])})
    )
    found = kept.climates(START_MS)[BOX].dew_point_c
    assert found == pytest.approx(float(row["dew_point_c"]), abs=float(row["tolerance_k"]))


@pytest.mark.parametrize("row", LIDS, ids=lambda row: f"{row['temperature_c']}C-lid-{row['surface_c']}C")
def test_the_margin_is_that_of_the_probe_on_the_lid(kept: Kept, row: dict[str, str]) -> None:
    air_c, humidity_pct = float(row["temperature_c"]), float(row["relative_humidity_pct"])
    kept.put(at(START_MS, {"box-s1/air": air_c, "box-s1/rh": humidity_pct, "box-s1/lid": float(row["surface_c"])}))
    climate = kept.climates(START_MS)[BOX]
    assert climate.margin_k == pytest.approx(float(row["margin_k"]), abs=0.002)
    assert climate.surface_temperature_c == float(row["surface_c"])
    assert climate.reason == "Surface temperature measured by a surface probe."


def test_without_a_lid_probe_the_margin_follows_from_the_temperature_factor(kept: Kept) -> None:
    """ISO 13788: f = (Ts - Te)/(Ti - Te); with f = 0.9, 30 °C inside and 20 °C outside Ts is 29 °C by hand."""
    kept.put(at(START_MS, {AIR: 30.0, "north-air/rh": 85.0}))
    climate = kept.climates(START_MS)["north/upper"]
    assert climate.surface_temperature_c == pytest.approx(29.0)
    assert climate.margin_k == pytest.approx(29.0 - 27.1986, abs=0.005)


@pytest.mark.parametrize("late_ms", [5 * MINUTE_MS + 1, -5 * MINUTE_MS - 1])
def test_a_lid_reading_of_another_time_gives_no_margin_and_says_so(kept: Kept, late_ms: int) -> None:
    kept.put(at(START_MS, {"box-s1/air": 30.0, "box-s1/rh": 85.0}))
    kept.put(at(START_MS + late_ms, {"box-s1/lid": 29.0}))
    climate = kept.climates(START_MS + HOUR_MS)[BOX]
    assert climate.margin_k is None
    assert climate.reason == "Surface temperature unknown: the surface probe has no good reading of this time."


@pytest.mark.parametrize("suspect", ["box-s1/air", "box-s1/rh"])
def test_a_suspect_reading_gives_no_dew_point(kept: Kept, suspect: str) -> None:
    values = {"box-s1/air": 30.0, "box-s1/rh": 85.0}
    kept.put(at(START_MS, values))
    assert BOX in kept.climates(START_MS)
    kept.put(at(START_MS + MINUTE_MS, {suspect: values[suspect]}, Quality.STUCK))
    assert kept.climates(START_MS + MINUTE_MS) == {}


@pytest.mark.parametrize(("apart_ms", "paired"), [(5 * MINUTE_MS, True), (5 * MINUTE_MS + 1, False)])
def test_temperature_and_humidity_of_different_times_are_not_paired(kept: Kept, apart_ms: int, paired: bool) -> None:
    kept.put(at(START_MS, {"box-s1/air": 30.0}))
    kept.put(at(START_MS + apart_ms, {"box-s1/rh": 85.0}))
    assert (BOX in kept.climates(START_MS + apart_ms)) is paired
