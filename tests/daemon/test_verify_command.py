"""`clutchwarden verify` at a keeper's terminal: what it says, to programs as well, and its exit codes."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.storage import chain, photos
from daemon.storage.connections import connect
from daemon.storage.errors import JournalError
from daemon.storage.journal import Journal
from daemon.storage.migrations import MIGRATIONS, migrate
from daemon.storage.photos import folder_of
from daemon.verify_text import fault_text
from daemon.verify_values import Fault, Wrong
from tests.storage.chained import DAYS, fill_every_table, past_clutchwarden, three_days, write_event
from tests.support.household import write_site


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_site(tmp_path / "site", 1883)


@pytest.fixture
def path(folder: Path) -> Path:
    return folder / "data" / "journal.sqlite3"


def verify(folder: Path, *options: str) -> Result:
    return CliRunner().invoke(cli.app, ["verify", str(folder), *options])


def _with_events(path: Path, days: int = 3) -> str:
    """Three days of readings and events; gives the code of the newest link."""
    three_days(path)
    with Journal.open(path) as journal:
        for day in range(days):
            write_event(journal, day)
        with journal.read() as conn:
            return chain.head_code(conn)


def test_a_whole_journal_is_told_in_a_sentence_with_the_code_to_keep(folder: Path, path: Path) -> None:
    code = _with_events(path)
    told = verify(folder)
    assert told.exit_code == 0, told.output
    first, *rest = told.stdout.splitlines()
    assert "4 500 readings of 3 days" in first
    assert first.endswith("are as they were written.")
    assert any(line == f"Newest link: {code}, of {DAYS[2]}." for line in rest)
    assert "2026-01-04 (UTC): not sealed yet. Nothing shows whether the 10 readings of that time stand" in told.stdout
    found = json.loads(verify(folder, "--json").stdout)
    assert (found["as_written"], found["readings"], found["readings_waiting"], found["code"]) == (True, 4500, 10, code)
    assert (found["not_sealed_from"], found["not_sealed_until"]) == ("2026-01-04", "2026-01-04")


def test_a_change_is_told_with_day_table_and_row_what_it_means_and_what_to_do(folder: Path, path: Path) -> None:
    _with_events(path)
    with past_clutchwarden(path) as conn:
        conn.execute("UPDATE audit_event SET new = '{}' WHERE event_id = 3")
        conn.execute("UPDATE sample SET value = value + 0.5 WHERE seq = 1600")
    told = verify(folder)
    assert told.exit_code == 1
    lines = told.stdout.splitlines()
    assert lines[0] == f"NOT as it was written. First broken day: {DAYS[1]} (UTC)."
    assert f"{DAYS[1]}, sample (readings): at least one of the readings no. 1501 to 3000 was changed" in lines[1]
    assert f"{DAYS[2]}, audit_event" in lines[2]
    assert "row 3 was changed" in lines[2]
    assert "What this means:" in told.stdout
    assert "What to do:" in told.stdout
    assert "not sealed yet" in told.stdout
    asked = verify(folder, "--json")
    found = json.loads(asked.stdout)
    assert (asked.exit_code, found["as_written"], found["first_broken_day"]) == (1, False, DAYS[1])
    assert {each["table"] for each in found["faults"]} == {"sample", "audit_event"}
    later = verify(folder, "--since", DAYS[2])
    assert later.exit_code == 1
    assert "First broken day: 2026-01-03" in later.stdout


def test_a_code_from_a_letter_is_looked_for(folder: Path, path: Path) -> None:
    code = _with_events(path)
    known = verify(folder, "--head", code.lower())
    assert known.exit_code == 0
    assert "The code that you gave is in the chain" in known.stdout
    other = verify(folder, "--head", "5-0000-0000-0000-0000")
    assert other.exit_code == 1
    assert "the code of link 5 is not in this journal" in other.stdout
    assert "restored from an older backup" in other.stdout
    assert json.loads(verify(folder, "--head", code, "--json").stdout)["code_found"] is True


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--since", "yesterday"), "is no day"),
        (("--since", "2999-01-01"), "lies ahead"),
        (("--head", "12-AB"), "is no code of a link"),
    ],
)
def test_what_cannot_be_read_is_refused_with_an_example(
    folder: Path, path: Path, options: tuple[str, str], told: str
) -> None:
    three_days(path, each=2)
    refused = verify(folder, *options)
    assert refused.exit_code == 2
    assert told in refused.stderr


def test_a_photo_that_was_exchanged_or_is_missing_is_told(folder: Path, path: Path) -> None:
    fill_every_table(path)
    assert verify(folder).exit_code == 0
    first, second, _ = sorted(folder_of(path).iterdir())
    first.write_bytes(b"another")
    second.unlink()
    told = verify(folder)
    assert told.exit_code == 1
    assert f"the file of photo {first.stem} is not the one that was stored" in told.stdout
    assert f"the file of photo {second.stem} is missing" in told.stdout
    assert photos.folder_of(path).exists()


def test_a_backup_is_looked_at_by_its_file_and_left_as_it_is(folder: Path, path: Path) -> None:
    _with_events(path)
    copy = folder / "backup.sqlite3"
    conn = connect(path, 5)
    conn.execute("VACUUM INTO ?", (str(copy),))
    conn.close()
    before = copy.read_bytes()
    assert verify(folder, "--journal", str(copy)).exit_code == 0
    assert copy.read_bytes() == before


def test_a_journal_without_a_chain_is_told_and_left_as_it_is(folder: Path, path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    conn = connect(path, 5)
    migrate(conn, str(path), MIGRATIONS[:13])
    conn.close()
    before = path.read_bytes()
    told = verify(folder)
    assert isinstance(told.exception, JournalError)
    assert "kept no chain" in str(told.exception)
    assert path.read_bytes() == before
    path.unlink()
    assert "there is no such file" in str(verify(folder).exception)


@pytest.mark.parametrize("wrong", list(Wrong))
def test_each_fault_has_words_with_its_row(wrong: Wrong) -> None:
    assert "4711" in fault_text(Fault(DAYS[0], "sample", "4711", wrong))
