"""`clutchwarden hatch SITE`: the clutches on record, from the journal, with no daemon."""

import json
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner, Result

from config.check import check_site
from daemon.clock import as_datetime
from daemon.clutches import register
from daemon.commands import hatch
from daemon.commands.site_folder import read_site
from daemon.storage import samples
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site

APP = typer.Typer()
APP.command()(hatch.hatch)
SET_UP_MS = 1_780_000_000_000
DAYS = 20


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site with two clutches of a ratsnake, twenty days at 28.2 °C in their incubator."""
    folder = write_site(tmp_path_factory.mktemp("hatch") / "site", 1883)
    whole = read_site(folder)
    checked = check_site(folder)
    assert checked.site is not None
    channels = list(dict(Decoder(checked.site).channels).values())
    step_ms = 10 * MINUTE_MS
    readings = [
        Reading("north-air/air", SET_UP_MS + n * step_ms, SET_UP_MS + n * step_ms, 28.2, 0)
        for n in range(DAYS * DAY_MS // step_ms + 1)
    ]
    with whole.journal() as journal:
        for each in (a_clutch(SET_UP_MS, "Juniper"), a_clutch(SET_UP_MS, "Rowan", "north/upper")):
            journal.write(partial(register.add_clutch, new=each, who="test", now_ms=SET_UP_MS))
        ids = journal.write(lambda conn: samples.channel_ids(conn, channels))
        journal.write(lambda conn: samples.append(conn, ids, readings))
    return folder


def call(*arguments: str) -> Result:
    return CliRunner().invoke(APP, [*arguments])


def now_text() -> str:
    return (as_datetime(SET_UP_MS) + timedelta(days=DAYS, hours=2)).strftime("%Y-%m-%d %H:%M")


def test_all_clutches_of_a_site_are_answered(site: Path) -> None:
    told = call(str(site), "--now", now_text())
    assert told.exit_code == 0, told.stderr
    assert told.stdout.count("likely ") == 2
    assert "Juniper: " in told.stdout
    assert "Rowan: " in told.stdout


def test_one_clutch_hatches_when_its_heat_is_full(site: Path) -> None:
    """Elaphe taeniura: zero 13.2 °C, 21,788 °C·h; at 28.2 °C it takes 60.5 d."""
    found = call(str(site), "Juniper", "--now", now_text(), "--json")
    assert found.exit_code == 0, found.stderr
    answers: list[dict[str, Any]] = json.loads(found.stdout)
    [answer] = answers
    assert answer["label"] == "Juniper"
    laid = as_datetime(a_clutch(SET_UP_MS).laid_from_ms).date()
    assert abs(date.fromisoformat(answer["likely"]) - laid - timedelta(days=60.5)) <= timedelta(days=2)
    assert answer["share"] == pytest.approx(DAYS * 24 * 15 / 21788, abs=0.03)


def test_a_clutch_that_is_not_there_is_refused(site: Path) -> None:
    found = call(str(site), "Junipr", "--now", now_text())
    assert found.exit_code == 2
    assert "Juniper" in found.stderr


def test_a_site_without_a_journal_is_not_given_one(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "site", 1883)
    found = call(str(folder))
    assert found.exit_code == 2
    assert "no journal" in found.stderr
    assert not read_site(folder).journal_path.exists()


def test_a_site_that_is_named_once_for_all_commands_is_asked_for_its_clutches(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    by_argument = call(str(site), "--now", now_text()).stdout
    monkeypatch.setenv("CLUTCHWARDEN_SITE", str(site))
    assert call("--now", now_text()).stdout == by_argument
