"""`clutchwarden hatch SITE` tells what the record of a clutch says of sex, stage and exposure."""

import json
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from config.check import check_site
from daemon.clock import as_datetime
from daemon.clutches import register
from daemon.commands import hatch
from daemon.commands.site_folder import read_site
from daemon.development.heat_interval import HeatPiece
from daemon.storage import heat, samples
from daemon.storage.heat import HeatHour
from sensors.decoder import Decoder
from tests.daemon.kept import HOUR_MS, START_MS, in_box, steady
from tests.support.household import DAY_MS, write_site

APP = typer.Typer()
APP.command()(hatch.hatch)
TENDER = """
id = "tender"
scientific_name = "Elaphe inventata"
common_name = "invented ratsnake"
group = "snake"
[temperature]
low = { value = 25, source = "invented" }
high = { value = 30, source = "invented" }
lethal_high = { value = 34, source = "invented" }
[usual_duration]
days_low = 55
days_high = 65
temperature_low_c = 28
temperature_high_c = 28
source = "invented"
[[stage]]
from_day = 2
humidity = { low = { value = 85, source = "invented" }, high = { value = 95, source = "invented" } }
[[exposure]]
above_c = 31
minutes = 60
within_h = 48
source = "invented"
"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two clutches, three days at 31.5 °C; the hours of heat are stored as the daemon stores them."""
    folder = write_site(tmp_path_factory.mktemp("hatch") / "site", 1883)
    (folder / "profiles").mkdir()
    (folder / "profiles" / "tender.toml").write_text(TENDER, encoding="utf-8")
    checked = check_site(folder)
    assert checked.site is not None
    channels = list(dict(Decoder(checked.site).channels).values())
    piece = HeatPiece(15.0, 15.0, 15.0, temperature_ch=31.5, linear_ms=HOUR_MS, covered_ms=HOUR_MS)
    with read_site(folder).journal() as journal:
        for label, species_id in (("Gecko", "eublepharis-macularius"), ("Tender", "tender")):
            each = in_box(label, species_id, "north/upper")
            number = journal.write(partial(register.add_clutch, new=each, who="test", now_ms=START_MS))
            hours = [HeatHour(START_MS - START_MS % HOUR_MS + n * HOUR_MS, piece) for n in range(72)]
            journal.write(partial(heat.put_hours, clutch_id=number, rows=hours))
        ids = journal.write(lambda conn: samples.channel_ids(conn, channels))
        readings = steady("north-air/air", 31.5, START_MS, START_MS + 3 * DAY_MS)
        journal.write(lambda conn: samples.append(conn, ids, readings))
    return folder


def call(site: Path, label: str, *more: str) -> str:
    now = (as_datetime(START_MS + 3 * DAY_MS) + timedelta(hours=2)).strftime("%Y-%m-%d %H:%M")
    found = CliRunner().invoke(APP, [str(site), label, "--now", now, *more])
    assert found.exit_code == 0, found.output
    return found.stdout


def answer(site: Path, label: str) -> dict[str, Any]:
    answers: list[dict[str, Any]] = json.loads(call(site, label, "--json"))
    [found] = answers
    return found


def test_sex_is_told_as_a_temperature_with_its_source_and_no_promise(site: Path) -> None:
    told = answer(site, "Gecko")
    assert " 31.5 °C (no pivotal temperature is known). No promise of either sex." in told["sex"]
    assert "Bull 1987" in told["sex"]
    assert (told["stage"], told["exposure_limits"]) == (None, [])
    assert f"Sex: {told['sex']}" in call(site, "Gecko")


def test_a_stage_and_a_passed_limit_are_told(site: Path) -> None:
    """Laid a day and a half before the set-up on average, so this is day 4.5.

    Of the last 48 h all is above 31 °C but the 4 min 20 s since the last reading: 2875 min 40 s.
    """
    told = answer(site, "Tender")
    assert told["stage"].startswith("Other limits hold now, from day 2 on, and this is day 4")
    [limit] = told["exposure_limits"]
    assert limit.startswith(
        "Exposure limit passed: above 31 °C for 2876 min in the last 48 h, and nothing is known of 4"
    )
    assert told["sex"] is None
    text = call(site, "Tender")
    assert told["stage"] in text
    assert limit in text
