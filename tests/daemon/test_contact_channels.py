"""Contacts beside thermometers in a whole site: on the first page, in `calibrate` and in `import`."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from config.words import Quantity
from daemon import cli
from tests.daemon.kept import AIR, START_MS, Kept, at, in_box
from tests.support.household import MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal

DOOR = """
[[probe]]
id = "north-door"
place = "{}"
interval_s = 3600
[[probe.channel]]
name = "door"
quantity = "door"
"""
CONTACTS = """
[[probe]]
id = "ups"
place = "room"
interval_s = 10
[[probe.channel]]
name = "mains"
quantity = "mains"
[[probe]]
id = "north-board"
place = "north"
interval_s = 10
[[probe.channel]]
name = "t"
quantity = "air_temperature"
[[probe.channel]]
name = "rh"
quantity = "relative_humidity"
"""


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return write_site(tmp_path / "site", 1883, "http://127.0.0.1:9/phone", CONTACTS + DOOR.format("north"))


@pytest.fixture
def kept(tmp_path: Path, site: Path) -> Iterator[Kept]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Kept(journal, site)


def test_the_first_page_has_what_a_contact_says_without_limits_or_uncertainty(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS))
    kept.put(at(START_MS, {AIR: 28.0, "north-door/door": 1.0, "ups/mains": 0.0}))
    now = kept.overview(START_MS)
    shown = {each.channel: each for incubator in now.incubators for each in incubator.channels}
    door = shown["north-door/door"]
    assert (door.value, door.quantity, door.place) == (1.0, Quantity.DOOR, "north")
    assert (door.low, door.high, door.standard_uncertainty, door.calibrated_ms) == (None, None, None, None)
    assert now.room is not None
    assert [(each.channel, each.value) for each in now.room.channels] == [("ups/mains", 0.0)]


def test_a_contact_makes_the_dew_point_neither_older_nor_younger(kept: Kept) -> None:
    """The thermometer speaks every 10 s and may be silent for 30 s; the door contact speaks once an hour."""
    kept.put(at(START_MS, {"north-board/t": 28.0, "north-board/rh": 70.0, "north-door/door": 0.0}))
    assert kept.climates(START_MS)["north"].old_after_ms == 30_000


def test_clutches_of_two_shelves_do_not_quarrel_because_their_incubator_has_a_door_contact(tmp_path: Path) -> None:
    shelves = '[[incubator]]\nid = "south"\nname = "South"\n' + "".join(
        f'[[incubator.zone]]\nid = "{zone}"\nname = "{zone} shelf"\n[[incubator.zone.box]]\nid = "{zone}1"\n'
        for zone in ("warm", "cool")
    )
    site = write_site(tmp_path / "two", 1883, extra=shelves + DOOR.format("south"))
    with new_journal(tmp_path / "two.sqlite3") as journal:
        kept = Kept(journal, site)
        kept.enter(in_box("Warm", "python-regius", "south/warm/warm1"))
        kept.enter(in_box("Cool", "correlophus-ciliatus", "south/cool/cool1"))
        assert kept.incubator("south", START_MS).conflicts == ()


def test_a_silent_contact_above_eggs_is_told_as_such_on_the_page(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS))
    for minute in range(4):
        kept.put(at(START_MS + minute * MINUTE_MS, {AIR: 28.0, "north-air/rh": 90.0}))
    kept.put(at(START_MS, {"ups/mains": 1.0}))
    kept.evaluate(START_MS + 3 * MINUTE_MS)
    room = kept.overview(START_MS + 3 * MINUTE_MS).room
    assert room is not None
    (alarm,) = room.alarms
    assert (alarm.channel, alarm.body) == ("ups/mains", "Check battery, plug and network of the mains contact.")


def test_a_contact_is_not_calibrated(site: Path) -> None:
    done = CliRunner().invoke(cli.app, ["calibrate", "show", "north-door/door", "--site", str(site)])
    assert done.exit_code == 2
    assert "north-door/door is a door contact, which is 0 or 1: there is nothing to calibrate." in " ".join(
        f"{done.stdout} {done.stderr}".split()
    )
    listed = CliRunner().invoke(cli.app, ["calibrate", "list", "--json", "--site", str(site)])
    assert listed.exit_code == 0
    assert "north-board/t" in listed.stdout
    assert "door" not in listed.stdout


@pytest.mark.parametrize("channel", ["north-door/door", "ups/mains"])
@pytest.mark.parametrize("column", ["temperature", "humidity"])
def test_a_logger_record_is_not_imported_into_a_contact(site: Path, channel: str, column: str) -> None:
    file = site / "record.csv"
    file.write_text("time,x\n2026-05-03 10:00,1\n2026-05-03 10:10,1\n", encoding="utf-8")
    options = (
        ["--temperature-column", "x", "--to"]
        if column == "temperature"
        else ["--humidity-column", "x", "--humidity-to"]
    )
    done = CliRunner().invoke(
        cli.app, ["import", str(site), str(file), "--time-column", "time", *options, channel, "--yes"]
    )
    assert done.exit_code == 2
    assert f"{channel} is the {channel.split('/')[1]} of its probe" in " ".join(f"{done.stdout} {done.stderr}".split())
