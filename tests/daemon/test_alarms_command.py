"""`clutchwarden alarms`: what is on, and what people do about it, beside a journal with a real alarm in it."""

import json
from pathlib import Path

import pytest
from freezegun import freeze_time
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.alarm_measures import window_from
from daemon.clock import as_datetime
from tests.daemon.test_desk import HIGH, SECOND_PERSON, Room
from tests.support.household import MINUTE_MS, write_site
from tests.support.journals import new_journal


class Bench:
    """A site whose incubator has been too warm for half an hour."""

    def __init__(self, folder: Path) -> None:
        self.folder = write_site(folder / "site", 1883, "http://127.0.0.1:9/phone", extra=SECOND_PERSON)
        with new_journal(self.folder / "data" / "journal.sqlite3") as journal:
            self.room = Room(journal, self.folder)
            self.room.minutes(5, 28.0)
            self.room.minutes(30, 31.0)
        self.now_ms = self.room.now_ms

    def call(self, *arguments: str) -> Result:
        """The command, a minute later each time."""
        self.now_ms += MINUTE_MS
        with freeze_time(as_datetime(self.now_ms), ignore=["sqlite3"]):
            return CliRunner().invoke(cli.app, ["alarms", *arguments, "--site", str(self.folder)])


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_an_alarm_is_listed_with_its_state_in_words_and_for_programs(bench: Bench) -> None:
    shown = bench.call("list").stdout
    assert HIGH in shown
    assert "URGENT" in shown
    assert "unacknowledged, condition alarm, since" in shown
    [found] = json.loads(bench.call("list", "--json").stdout)
    assert (found["alarm"], found["state"], found["priority"]) == (HIGH, "unacknowledged", 2)


def test_an_acknowledgement_says_who_and_a_second_one_is_refused(bench: Bench) -> None:
    first = bench.call("acknowledge", HIGH, "--who", "kim", "--note", "opened the door")
    assert first.exit_code == 0, first.output
    assert "acknowledged by kim" in first.stdout
    again = bench.call("acknowledge", HIGH, "--who", "lee")
    assert again.exit_code == 2
    assert "not done: kim has acknowledged it already" in again.stdout
    assert "acknowledged by kim" in bench.call("list").stdout
    lines = bench.call("journal").stdout
    assert "acknowledge: acknowledged, by kim" in lines
    assert "acknowledge (refused): acknowledged, by lee" in lines


def test_a_shelf_past_its_longest_time_is_refused_and_one_within_it_can_be_ended(bench: Bench) -> None:
    refused = bench.call("shelve", HIGH, "--why", "new thermostat", "--for", "9d", "--who", "kim")
    assert refused.exit_code == 2
    assert "not done: too long: at priority 2 the longest is 240 min" in refused.stdout
    assert bench.call("shelve", HIGH, "--why", "new thermostat", "--for", "1h", "--who", "kim").exit_code == 0
    assert "shelved by kim for 59 min more: new thermostat" in bench.call("list").stdout
    assert bench.call("unshelve", HIGH, "--who", "kim").exit_code == 0
    assert "unacknowledged" in bench.call("list").stdout


def test_a_name_that_no_alarm_has_is_answered_with_the_nearest(bench: Bench) -> None:
    refused = bench.call("acknowledge", "temperature-hihg:north-air/air")
    assert refused.exit_code == 2
    assert HIGH in refused.stderr


@pytest.mark.parametrize("long", ["soon", "0h", "-1h", "5"])
def test_a_length_of_time_that_is_none_is_refused_with_an_example(bench: Bench, long: str) -> None:
    refused = bench.call("shelve", HIGH, "--why", "x", "--for", long)
    assert refused.exit_code == 2
    assert "20min" in " ".join(refused.output.split())


def test_metrics_say_that_there_is_too_little_data(bench: Bench) -> None:
    shown = bench.call("metrics", "--days", "7").stdout
    assert "too little data" in shown
    assert HIGH in shown
    found = json.loads(bench.call("metrics", "--json").stdout)
    assert found["performance"]["annunciations"] == 1


def test_a_site_without_an_alarm_says_so(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "site", 1883)
    found = CliRunner().invoke(cli.app, ["alarms", "list", "--site", str(folder)])
    assert "No alarm is on" in found.stdout


@pytest.mark.parametrize(
    ("first_ms", "from_ms"),
    [(None, -29 * 86_400_000), (-40 * 86_400_000, -29 * 86_400_000), (5, 5), (86_400_000, 86_399_999)],
)
def test_a_window_begins_when_somebody_began_to_watch_at_the_earliest(first_ms: int | None, from_ms: int) -> None:
    assert window_from(30, first_ms, 86_400_000) == from_ms


def test_ack_is_short_for_acknowledge() -> None:
    both = [CliRunner().invoke(cli.app, ["alarms", word, "--help"]) for word in ("ack", "acknowledge")]
    assert [done.exit_code for done in both] == [0, 0]
