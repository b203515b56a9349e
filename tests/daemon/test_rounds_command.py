"""`clutchwarden round`: started, ended and listed beside a journal with real alarms in it."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from freezegun import freeze_time
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.clock import as_datetime
from tests.daemon.rounds_house import LOW, NOT_ENDED, OPENED, WELL, RoundHouse, house_in
from tests.support.household import MINUTE_MS


class Bench:
    """A house, and commands at the moment to which it has come."""

    def __init__(self, house: RoundHouse) -> None:
        self.house = house

    def call(self, *arguments: str) -> Result:
        with freeze_time(as_datetime(self.house.now_ms), ignore=["sqlite3"]):
            return CliRunner().invoke(cli.app, [*arguments, "--site", str(self.house.folder)])


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    site, journal = house_in(tmp_path)
    with journal:
        house = RoundHouse(journal, site)
        house.passing(10, WELL)
        yield Bench(house)


def test_a_round_holds_back_what_is_on_and_says_until_when(bench: Bench) -> None:
    """The house's clock stands at 22:46 in Madrid after twenty minutes: 1 780 000 000 s is 22:26 there."""
    assert bench.house.passing(10, OPENED)
    begun = bench.call("round", "start", "north", "--for", "20min", "--who", "ana")
    assert begun.exit_code == 0, begun.output
    assert "Round no. 1 in North cabinet, until 2026-05-28 23:06 at the latest." in begun.stdout
    assert LOW in begun.stdout
    assert "clutchwarden round end north" in begun.stdout
    assert bench.house.passing(5, OPENED) == []
    assert "held back: round in progress, for 15 min more at most" in bench.call("alarms", "list").stdout
    ended = bench.call("round", "end", "north", "--note", "all well", "--who", "ana")
    assert "is ended after 5 min" in ended.stdout
    assert "It may settle until 2026-05-28 23:06" in ended.stdout
    assert "ended after 5 min: all well" in bench.call("round", "list").stdout


def test_a_round_past_its_end_says_so_everywhere(bench: Bench) -> None:
    bench.call("round", "start", "north", "--for", "12min", "--who", "ana")
    bench.house.passing(11, OPENED)
    assert "goes on, for 1 min more at most" in bench.call("round", "list").stdout
    bench.house.passing(4, OPENED)
    assert "not ended, 3 min past its end" in bench.call("round", "list").stdout
    assert NOT_ENDED in bench.call("alarms", "list").stdout
    ended = bench.call("round", "end", "north", "--who", "ben")
    assert "everything has been told again since then" in ended.stdout
    [found] = json.loads(bench.call("round", "list", "--json").stdout)
    assert (found["round"], found["who"], found["ended_by"]) == (1, "ana", "ben")
    assert found["ended_ms"] - found["started_ms"] == 15 * MINUTE_MS


def test_what_cannot_be_meant_is_refused_with_what_to_do(bench: Bench) -> None:
    unknown = bench.call("round", "start", "nrth")
    assert unknown.exit_code == 2
    assert 'Did you mean "north"?' in unknown.stderr
    long = bench.call("round", "start", "north", "--for", "2h", "--who", "ana")
    assert long.exit_code == 2
    assert "a round of 120 min is not possible; it lasts more than 0 and at most 30 min" in long.stderr
    assert "no round goes on in north" in bench.call("round", "end", "north").stderr
    assert bench.call("round", "start", "north", "--who", "ana").exit_code == 0
    again = bench.call("round", "start", "north", "--who", "ben")
    assert again.exit_code == 2
    assert "a round goes on in north already, started by ana" in again.stderr
    assert "No round" not in bench.call("round", "list").stdout


def test_a_site_without_a_round_says_how_to_begin_one(bench: Bench) -> None:
    assert "clutchwarden round start" in bench.call("round", "list").stdout
