"""Two sites of one name in one InfluxDB, and a site that is given another name."""

import logging
from pathlib import Path

import pytest
from typer.testing import CliRunner

from daemon.cli import app
from daemon.mirror_filling import fill
from daemon.storage import identity
from daemon.storage.journal import Journal
from sensors.reading import Reading
from tests.mirror.house import AIR, MINUTE_MS, Mirrored, real_ms
from tests.support.influxdb import InfluxDb
from tests.support.processes import wait_until

pytestmark = pytest.mark.services

NOW_MS = real_ms()


def measure(house: Mirrored, value: float, first: int = 60) -> None:
    """Store a reading a minute, of so many minutes ago up to half an hour before now."""
    times = [NOW_MS - ago * MINUTE_MS for ago in range(first, first - 30, -1)]
    house.append([Reading(AIR.channel, at_ms, at_ms + 300, value, 0) for at_ms in times])


def fill_up(house: Mirrored) -> None:
    fill(house.journal, house.site, house.settings, real_ms, None, lambda _: lambda _: None)


def own(house: Mirrored) -> str:
    with house.journal.read() as conn:
        return identity.journal_id(conn)


def told(house: Mirrored) -> str:
    found = CliRunner().invoke(app, ["check", str(house.folder)])
    assert found.exit_code == 0, found.output
    return " ".join(found.output.split())


def restored(house: Mirrored, to: Path, *more: str) -> tuple[str, list[float]]:
    """What `mirror restore` makes: its identity and the values of its readings. Raises what the command raises."""
    arguments = ["mirror", "restore", "--to", str(to), "--site", str(house.folder), *more]
    found = CliRunner().invoke(app, arguments)
    if found.exception is not None:
        raise found.exception
    with Journal.open(to) as journal, journal.read() as conn:
        values = [value for (value,) in conn.execute("SELECT value FROM sample ORDER BY seq")]
        return identity.journal_id(conn), values


def test_two_sites_of_one_name_keep_apart_and_both_are_told(
    house: Mirrored, influxdb: InfluxDb, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    other = Mirrored(tmp_path / "other", influxdb)
    measure(house, 25.0)
    measure(other, 31.0)
    assert own(house) != own(other)
    fill_up(house)
    assert "another journal" not in told(house)
    with caplog.at_level(logging.WARNING), other.keeper():
        wait_until(other.has_all, "everything in the mirror", 40)
        wait_until(lambda: own(house) in caplog.text, "a word of the other journal in the log", 40)
    assert len(house.ask("SELECT value FROM reading")) == 60
    assert house.differing() == other.differing() == []
    for one, stranger in ((house, other), (other, house)):
        assert f'another journal ({own(stranger)}) writes there too as the site "Test house"' in told(one)
        with pytest.raises(Exception, match=f"--journal: .*{own(one)} until"):
            restored(one, tmp_path / "new.sqlite3")
    assert restored(house, tmp_path / "new.sqlite3", "--journal", own(house)) == (own(house), [25.0] * 30)
    other.journal.close()


def test_a_site_that_is_renamed_goes_on_and_is_compared_and_restored_as_a_whole(
    house: Mirrored, tmp_path: Path
) -> None:
    measure(house, 25.0)
    fill_up(house)
    house.rename("New house")
    measure(house, 26.0, first=30)
    with house.keeper():
        wait_until(house.has_all, "everything in the mirror", 40)
    assert len(house.ask("SELECT value FROM reading WHERE site = 'New house'")) == 30
    assert house.differing() == []
    assert 'this journal is there as the site "Test house" too' in told(house)
    # Everything once more under the new name: no reading counts twice.
    fill_up(house)
    assert len(house.ask("SELECT value FROM reading")) == 90
    assert house.differing() == []
    assert restored(house, tmp_path / "new.sqlite3") == (own(house), [25.0] * 30 + [26.0] * 30)


def test_the_identity_of_a_journal_stays(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "one.sqlite3") as journal, journal.read() as conn:
        first = identity.journal_id(conn)
    with Journal.open(tmp_path / "one.sqlite3") as journal, journal.read() as conn:
        assert identity.journal_id(conn) == first
    with Journal.open(tmp_path / "two.sqlite3") as journal, journal.read() as conn:
        assert identity.journal_id(conn) != first
