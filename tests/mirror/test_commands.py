"""`clutchwarden mirror` and `check` against a real InfluxDB."""

from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from daemon.cli import app
from daemon.storage import heat, mirror, samples
from daemon.storage.journal import Journal
from daemon.verify import verify
from sensors.reading import Reading
from tests.mirror.house import AIR, BUCKET, HOUR_MS, HUMIDITY, MINUTE_MS, START_MS, TOKEN, Mirrored
from tests.support.influxdb import Fault

pytestmark = pytest.mark.services


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments))


def in_site(house: Mirrored, *arguments: str) -> Result:
    return run("mirror", *arguments, "--site", str(house.folder))


def whole_journal(path: Path) -> tuple[list[object], list[object]]:
    """Readings by the name of their channel, and alarm events, with all of their columns."""
    with Journal.open(path) as journal, journal.read() as conn:
        readings = conn.execute(
            "SELECT seq, channel, probe, quantity, measured_at_ms, received_at_ms, value, quality"
            " FROM sample JOIN channel USING (channel_id) ORDER BY seq"
        ).fetchall()
        return readings, conn.execute("SELECT * FROM alarm_event ORDER BY event_id").fetchall()


def test_backfill_brings_everything_and_compare_finds_no_difference(house: Mirrored) -> None:
    house.store(0, 3000)
    house.event(1)
    house.heat(house.clutch(), 3, 1.5)
    filled = in_site(house, "backfill")
    assert filled.exit_code == 0, filled.output
    assert "6,000 readings are in" in filled.output
    compared = in_site(house, "compare")
    assert compared.exit_code == 0, compared.output
    assert "No difference." in compared.output
    assert "6,001 readings and events" in compared.output
    assert len(house.ask("SELECT * FROM heat")) == 3
    assert house.has_all()


def test_compare_says_what_is_missing_different_and_extra_and_mends_the_first_two(house: Mirrored) -> None:
    house.store(0, 100)
    house.event(1)
    in_site(house, "backfill")
    # As the rows of that channel are named in the mirror; the readings of this test begin on 21 September 2026.
    [one] = house.ask(f"SELECT * FROM reading WHERE seq = 11 AND channel = '{AIR.channel}'")
    series = (
        f"reading,channel={AIR.channel},incubator=north,journal={one['journal']},place=north/upper,probe=north-air,quantity=air_temperature,"
        "site=Test\\ house"
    )
    house.engine.write(BUCKET, f"{series} value=99 {int(float(str(one['time'])))}")
    house.engine.write(
        BUCKET, f"{series} value=1,seq=1i,received_ms={START_MS}i,quality=0i {START_MS + 500 * MINUTE_MS}"
    )
    house.engine.query(f"DELETE FROM reading WHERE channel = '{HUMIDITY.channel}' AND time = {START_MS}ms", BUCKET)
    house.engine.query("DELETE FROM alarm_event", BUCKET)
    found = in_site(house, "compare")
    assert found.exit_code == 1
    air, humidity, events = (
        next(line for line in found.output.splitlines() if what in line)
        for what in (AIR.channel, HUMIDITY.channel, "alarm events")
    )
    assert air.strip() == (
        "2026-09-21 north-air/air: 1 different there, 1 there that the journal has not (left as they are) (of 100)"
    )
    assert humidity.strip() == "2026-09-21 north-air/rh: 1 missing there (of 100)"
    assert events.strip() == "2026-09-21 alarm events: 1 missing there (of 1)"
    mended = in_site(house, "compare", "--mend")
    assert "Written once more: 3 points." in mended.output
    assert mended.exit_code == 1
    house.engine.query(f"DELETE FROM reading WHERE time = {START_MS + 500 * MINUTE_MS}ms", BUCKET)
    assert in_site(house, "compare").exit_code == 0


def test_a_refused_point_is_told_and_comes_once_it_is_taken(house: Mirrored) -> None:
    old_ms = START_MS - 90 * 24 * HOUR_MS
    house.engine.write(BUCKET, f"reading,site=other value=1i {old_ms}")
    house.store(0, 10)
    house.append([Reading(AIR.channel, old_ms, START_MS, 25.5, 0)])
    filled = in_site(house, "backfill")
    assert "refused 1 point in all" in filled.output
    status = run("mirror", "status", str(house.folder))
    assert "It refused 1 point." in status.output
    assert "reading 21: " in status.output
    compared = in_site(house, "compare")
    assert compared.exit_code == 0
    assert "Not there because refused: 1 point;" in compared.output
    # A shard group of an engine with the default retention is of seven days; it goes as a whole.
    house.engine.query(f"DROP DATABASE {BUCKET}")
    house.engine.query(f"CREATE DATABASE {BUCKET}")
    assert in_site(house, "compare", "--mend").exit_code == 0
    assert "refused" not in run("mirror", "status", str(house.folder)).output
    assert house.differing() == []


def test_a_restored_journal_equals_the_one_that_was_lost(house: Mirrored, tmp_path: Path) -> None:
    house.store(0, 700)
    house.append([Reading(AIR.channel, START_MS - 5 * MINUTE_MS, START_MS + 900 * MINUTE_MS, -0.0, 4)])
    house.append([Reading(HUMIDITY.channel, START_MS - 5 * MINUTE_MS, START_MS + 901 * MINUTE_MS, 1 / 3, 0)])
    house.event(1)
    house.event(2, reason="ça va\\")
    in_site(house, "backfill")
    path = house.journal.path
    house.journal.close()
    before = whole_journal(path)
    new = tmp_path / "restored" / "journal.sqlite3"
    restored = in_site(house, "restore", "--to", str(new))
    assert restored.exit_code == 0, restored.output
    assert whole_journal(new) == before
    assert repr(whole_journal(new)) == repr(before)
    assert (
        "1,402 readings of 2 channels, 2026-09-21 14:15 to 2026-09-22 01:59 UTC, and 2 alarm events" in restored.output
    )
    assert "register" in restored.output
    assert verify(new).faults == ()
    with Journal.open(new) as journal, journal.read() as conn:
        assert heat.get_cursor(conn) == samples.count(conn) == 1402
        assert mirror.cursors(conn, house.target) == (1402, 2)


def test_where_the_mirror_lacks_a_reading_the_numbers_close_up_and_that_is_told(
    house: Mirrored, tmp_path: Path
) -> None:
    house.store(0, 50)
    in_site(house, "backfill")
    house.engine.query(f"DELETE FROM reading WHERE channel = '{AIR.channel}' AND time = {START_MS}ms", BUCKET)
    new = tmp_path / "new.sqlite3"
    restored = in_site(house, "restore", "--to", str(new))
    assert restored.exit_code == 0, restored.output
    assert "lacks readings that the journal had: 1." in restored.output
    readings, _ = whole_journal(new)
    assert [row[0] for row in readings] == list(range(1, 100))  # type: ignore[index]


def test_nothing_is_written_over_and_nothing_half_made_stays(house: Mirrored, tmp_path: Path) -> None:
    there = tmp_path / "there.sqlite3"
    there.write_text("mine")
    refused = in_site(house, "restore", "--to", str(there))
    assert refused.exit_code != 0
    assert there.read_text() == "mine"
    empty = in_site(house, "restore", "--to", str(tmp_path / "new.sqlite3"))
    assert empty.exit_code != 0
    assert "no readings of the site" in str(empty.exception)
    assert list(tmp_path.glob("new*")) == []


def test_points_without_a_journal_are_nobodys_and_a_journal_that_never_wrote_is_named(
    house: Mirrored, tmp_path: Path
) -> None:
    """Another program writes there too, even under the name of the site."""
    fields = f"value=1,seq=1i,received_ms={START_MS}i,quality=0i {START_MS}"
    tags = f"channel={AIR.channel},probe=north-air,quantity=air_temperature"
    house.engine.write(BUCKET, f"reading,{tags} {fields}\nreading,{tags},site=Test\\ house {fields}")
    new = tmp_path / "new.sqlite3"
    for more, why in (
        ((), 'there are no readings of the site "Test house"'),
        (("--journal", "0123456789abcdef"), "there are no readings of the journal 0123456789abcdef"),
    ):
        refused = in_site(house, "restore", "--to", str(new), *more)
        assert refused.exit_code != 0
        assert why in str(refused.exception)
        assert list(tmp_path.glob("new*")) == []


def test_the_commands_tell_what_is_wrong_without_the_token(house: Mirrored) -> None:
    house.store(0, 5)
    house.engine.misbehave(Fault(401, f"no: {TOKEN}".encode()))
    found = in_site(house, "compare")
    told = f"{found.output}{found.exception}"
    assert found.exit_code != 0
    assert "it does not accept the token" in told
    assert TOKEN not in told


def test_check_tries_the_mirror(house: Mirrored) -> None:
    assert "mirror" not in run("check", str(house.folder)).output
    house.engine.query(f"DROP DATABASE {BUCKET}")
    without = run("check", str(house.folder))
    assert without.exit_code == 0
    assert "no such database or bucket" in without.output
    # The database that is read holds the point of an earlier check; what is written goes elsewhere.
    house.engine.query(f"CREATE DATABASE {BUCKET}")
    house.engine.query("CREATE DATABASE elsewhere")
    house.engine.write(BUCKET, f"mirror_check,site=Test\\ house up=1i {START_MS - 1000 * 24 * HOUR_MS}")
    house.engine.divert("elsewhere")
    apart = run("check", str(house.folder))
    assert apart.exit_code == 0
    assert "a point that was just written is not there" in apart.output
    house.engine.divert(None)
    assert "mirror" not in run("check", str(house.folder)).output
    house.engine.halt()
    off = run("check", str(house.folder))
    assert off.exit_code == 0
    assert "the connection broke" in off.output


def test_without_a_mirror_the_commands_say_so(house: Mirrored) -> None:
    (house.folder / "settings.toml").write_text("[broker]\nport = 1883\n")
    for command in ("backfill", "compare"):
        assert in_site(house, command).exit_code == 2
