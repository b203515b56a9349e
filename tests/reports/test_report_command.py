"""`clutchwarden report` at a keeper's terminal: what is written where, and what is refused."""

import subprocess
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.clutches import register
from daemon.storage.journal import Journal
from tests.daemon.kept import AIR, START_MS, Kept, steady
from tests.support.household import DAY_MS, a_clutch, write_site


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = write_site(tmp_path / "site", 1883)
    with Journal.open(made / "data" / "journal.sqlite3") as journal:
        kept = Kept(journal, made)
        kept.enter(a_clutch(START_MS))
        kept.put(steady(AIR, 28.0, START_MS, START_MS + DAY_MS))
    return made


def report(folder: Path, *options: str) -> Result:
    return CliRunner().invoke(cli.app, ["report", *options, "--site", str(folder)])


def test_a_clutch_by_label_and_by_number_a_month_and_a_season(folder: Path, tmp_path: Path) -> None:
    for number, words in enumerate((("clutch", "juniper"), ("clutch", "1"), ("month", "2026-05"), ("season", "2026"))):
        out = tmp_path / f"out-{number}"
        told = report(folder, *words, "--to", str(out))
        assert told.exit_code == 0, told.output
        assert f"Written to {out}" in told.stdout
        assert (out / "report.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
        subprocess.run(["sha256sum", "--check", "--quiet", "SHA256SUMS"], cwd=out, check=True)
    assert "with 289 readings as CSV" in report(folder, "clutch", "1", "--to", str(tmp_path / "again")).stdout


def test_without_a_folder_it_is_made_here_by_its_name(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    told = report(folder, "season", "2026")
    assert told.exit_code == 0, told.output
    assert (tmp_path / "here/season-2026/SHA256SUMS").exists()
    again = report(folder, "season", "2026")
    assert again.exit_code == 2
    assert "Nothing is overwritten" in again.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("clutch", "Jniper"), "There is no clutch 'Jniper'. Did you mean"),
        (("clutch", "7"), "There is no clutch '7'"),
        (("month", "2026-5"), "'2026-5' is no month. Write a year and a month: 2026-05."),
        (("month", "2011-05"), "The journal knows nothing of 2011-05"),
        (("month", "2199-05"), "2199-05 lies ahead"),
        (("season", "soon"), "'soon' is no year"),
    ],
)
def test_what_there_is_not_is_said_in_a_sentence_and_leaves_no_folder(
    folder: Path, tmp_path: Path, words: tuple[str, str], said: str
) -> None:
    told = report(folder, *words, "--to", str(tmp_path / "out"))
    assert told.exit_code == 2
    assert said in told.stderr
    assert not (tmp_path / "out").exists()


def test_a_folder_that_is_taken_or_cannot_be_made_is_refused(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine/precious.txt").write_text("mine", encoding="utf-8")
    told = report(folder, "clutch", "Juniper", "--to", str(tmp_path / "mine"))
    assert (told.exit_code, "is not empty. Nothing is overwritten" in told.stderr) == (2, True)
    below = tmp_path / "mine/precious.txt/out"
    refused = report(folder, "clutch", "Juniper", "--to", str(below))
    assert (refused.exit_code, "cannot be made: file exists" in refused.stderr) == (2, True)
    assert [each.name for each in (tmp_path / "mine").iterdir()] == ["precious.txt"]


def test_of_two_closed_clutches_of_a_name_the_number_is_asked_for(folder: Path, tmp_path: Path) -> None:
    with Journal.open(folder / "data" / "journal.sqlite3") as journal:

        def close_and_enter(conn: object) -> None:
            register.close_clutch(conn, 1, START_MS + DAY_MS, "ana", "", START_MS + DAY_MS)  # type: ignore[arg-type]

        journal.write(close_and_enter)
        again = a_clutch(START_MS + 2 * DAY_MS)
        journal.write(lambda conn: register.add_clutch(conn, again, "ana", START_MS + 3 * DAY_MS))
        assert report(folder, "clutch", "Juniper", "--to", str(tmp_path / "open")).exit_code == 0
        assert "number in the register" in (tmp_path / "open/report.html").read_text(encoding="utf-8").lower()
        assert (tmp_path / "open/clutch-and-eggs.csv").exists()
        end_ms = START_MS + 4 * DAY_MS
        journal.write(lambda conn: register.close_clutch(conn, 2, end_ms, "ana", "", end_ms))
    told = report(folder, "clutch", "Juniper", "--to", str(tmp_path / "out"))
    assert told.exit_code == 2
    assert "2 closed clutches were called 'Juniper'. Give a number: 1, 2." in told.stderr
