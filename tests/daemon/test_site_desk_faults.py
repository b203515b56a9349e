"""Changes of the site file where the disk, the journal or an editor is in the way."""

import contextlib
import os
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.site_edit import NewContact, add_contact
from daemon.site_desk import Changed, NotChanged
from daemon.site_files import Replacement
from daemon.storage.connections import connect
from daemon.storage.journal import Journal
from tests.daemon.site_desked import ADDRESS, Desked, reasons
from tests.support.household import write_site
from tests.support.processes import wait_until


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal.open(tmp_path / "journal.sqlite3") as opened:
        yield opened


@pytest.fixture
def desked(tmp_path: Path, journal: Journal) -> Desked:
    return Desked(tmp_path / "site", journal)


def test_a_folder_that_cannot_be_written_is_told_in_words(desked: Desked) -> None:
    before = desked.text
    if os.geteuid() == 0:
        # Nothing is forbidden to root; a file where the folder of addresses should be is in everybody's way.
        (desked.folder / "secrets").write_text("", encoding="utf-8")
        name = "secrets/ana-1"
        done = desked.desk.change(
            "m", "host", "c", lambda text: add_contact(text, "ana", NewContact("webhook", name)), "",
            desked.desk.mark(), {name: ADDRESS},
        )  # fmt: skip
    else:
        desked.folder.chmod(0o500)
        done = desked.add()
        desked.folder.chmod(0o700)
    assert "cannot be" in reasons(done)
    assert "Let the account that runs clutchwarden write" in reasons(done)
    assert desked.text == before


def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A real file system of 256 kB."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("a small disk can be mounted by root alone")
    try:
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=True)


small = pytest.fixture(small_disk)


def test_a_full_disk_leaves_the_file_as_it_was_and_says_what_to_do(small: Path, journal: Journal) -> None:
    desked = Desked(small / "site", journal)
    before = desked.text
    filler = small / "filler"
    with filler.open("wb", buffering=0) as full, contextlib.suppress(OSError):
        while True:
            full.write(b"x" * 4096)
    assert "no space left on device" in reasons(desked.add())
    assert "Free some space" in reasons(desked.add())
    assert (desked.text, desked.left_over(), desked.starts) == (before, [], 0)
    filler.unlink()
    assert isinstance(desked.add(), Changed)


@pytest.mark.parametrize("step", ["INSERT", "COMMIT"])
def test_a_journal_that_cannot_be_written_leaves_the_file_as_it_was(tmp_path: Path, step: str) -> None:
    fails = False

    class Failing(sqlite3.Connection):
        def execute(self, sql: str, *arguments: object) -> sqlite3.Cursor:
            if fails and sql.startswith(step):
                error = sqlite3.OperationalError("made to fail")
                error.sqlite_errorcode = sqlite3.SQLITE_FULL
                raise error
            return super().execute(sql, *arguments)  # type: ignore[arg-type]

    def failing(path: Path, busy_timeout_s: float) -> sqlite3.Connection:
        connect(path, busy_timeout_s).close()
        return sqlite3.connect(
            path, timeout=busy_timeout_s, isolation_level=None, check_same_thread=False, factory=Failing
        )

    with Journal.open(tmp_path / "journal.sqlite3", bare=failing) as journal:
        desked = Desked(tmp_path / "site", journal)
        before, fails = desked.text, True
        assert "the disk is full" in reasons(desked.add())
        assert (desked.text, desked.left_over(), desked.starts) == (before, [], 0)
        fails = False
        assert isinstance(desked.add(), Changed)


_CHANGES_WITHOUT_END = """
import sys
from pathlib import Path
from daemon.site_files import Replacement
folder, texts = Path(sys.argv[1]), [Path(each).read_text() for each in sys.argv[2:]]
number = 0
print("begun", flush=True)
while True:
    number += 1
    with Replacement(folder, (folder / "site.toml").read_text(), texts[number % 2]) as replacement:
        replacement.put()
        replacement.keep()
"""


def test_a_kill_at_any_moment_leaves_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "site", 1883)
    old = (folder / "site.toml").read_text(encoding="utf-8")
    new = old + "# more\n" * 20_000
    texts = [tmp_path / "old", tmp_path / "new"]
    for path, text in zip(texts, (old, new), strict=True):
        path.write_text(text, encoding="utf-8")
    seen = set()
    for _ in range(12):
        command = [sys.executable, "-c", _CHANGES_WITHOUT_END, str(folder), *map(str, texts)]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            process.stdout.readline()
            before_ns = (folder / "site.toml").stat().st_mtime_ns
            wait_until(lambda: (folder / "site.toml").stat().st_mtime_ns != before_ns, "a change")  # noqa: B023
            process.send_signal(signal.SIGKILL)
        text = (folder / "site.toml").read_text(encoding="utf-8")
        assert text in (old, new)
        seen.add(text)
    # What a kill left behind goes with the next change.
    with Replacement(folder, (folder / "site.toml").read_text(encoding="utf-8"), old) as replacement:
        replacement.put()
        replacement.keep()
    assert [path.name for path in folder.iterdir() if path.name.startswith(".site")] == []


def test_what_an_editor_saves_while_a_change_waits_to_be_written_stays(desked: Desked) -> None:
    gate, done = threading.Event(), []
    desked.journal.submit(lambda _conn: gate.wait(30))
    changing = threading.Thread(target=lambda: done.append(desked.add()))
    changing.start()
    wait_until(lambda: len(desked.left_over()) == 2, "the change to wait for the journal")
    saved = f'{desked.text}\n[quiet]\nstart = "22:00"\nend = "06:00"\n'
    (desked.folder / "site.toml").write_text(saved, encoding="utf-8")
    gate.set()
    changing.join(30)
    [answer] = done
    assert isinstance(answer, NotChanged)
    assert answer.outdated
    assert (desked.text, desked.record(), desked.starts, desked.left_over()) == (saved, [], 0, [])


def test_a_text_that_is_taken_back_never_takes_an_editors_with_it(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "site", 1883)
    before = (folder / "site.toml").read_text(encoding="utf-8")
    with Replacement(folder, before, before + "# ours\n") as replacement:
        replacement.put()
        (folder / "site.toml").write_text(before + "# theirs\n", encoding="utf-8")
    assert (folder / "site.toml").read_text(encoding="utf-8") == before + "# theirs\n"
