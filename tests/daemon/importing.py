"""What the tests of `clutchwarden import` share: an invented site, the command, and what is in the journal after it."""

import json
from pathlib import Path
from typing import Any

import typer
from typer.testing import CliRunner, Result

from daemon.commands import import_
from daemon.storage import samples
from daemon.storage.samples import StoredReading
from tests.support.household import write_site
from tests.support.journals import new_journal

APP = typer.Typer()
APP.command()(import_.import_record)
AIR, RH = "north-air/air", "north-air/rh"
NAMED = ("--time-column", "T", "--temperature-column", "C", "--to", AIR)
HUMID = ("--humidity-column", "H", "--humidity-to", RH)
UTC = ("--time-zone", "UTC")


class Site:
    """An invented site in a folder, and the command for it."""

    def __init__(self, folder: Path) -> None:
        self.folder = write_site(folder / "site", 1883)
        self.file = folder / "record.csv"
        self.journal_path = self.folder / "data" / "journal.sqlite3"

    def write(self, text: str, encoding: str = "utf-8") -> None:
        self.file.write_bytes(text.encode(encoding))

    def call(self, *arguments: str, answer: str | None = None) -> Result:
        return CliRunner().invoke(APP, [str(self.folder), str(self.file), *arguments], input=answer)

    def store(self, *arguments: str) -> dict[str, Any]:
        found = self.call(*arguments, "--yes", "--json")
        assert found.exit_code == 0, (found.stderr, found.exception)
        parsed: dict[str, Any] = json.loads(found.stdout)
        return parsed

    def refused(self, *arguments: str) -> str:
        """The sentence of an import that must not be possible; holds that it left nothing."""
        before = self.rows()
        found = self.call(*arguments, "--yes")
        assert found.exit_code == 2, (found.stdout, found.exception)
        assert self.rows() == before
        return found.stderr

    def rows(self) -> list[StoredReading]:
        if not self.journal_path.exists():
            return []
        with new_journal(self.journal_path) as journal, journal.read() as conn:
            return samples.after(conn, 0, 10**7)

    def series(self, channel: str = AIR) -> list[tuple[int, float]]:
        return sorted((row.measured_at_ms, row.value) for row in self.rows() if row.channel == channel)
