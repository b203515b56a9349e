"""What a keeper types, what is said, and the exit code."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from config.kept_settings import files_named, without_secrets
from daemon import cli
from daemon.backups.names import JOURNAL, MARKER
from daemon.backups.told import NONE_CONFIGURED
from daemon.storage.migrations import MIGRATIONS
from tests.backups.house import READINGS, BackedUp
from tests.support.household import write_site


def run(*words: object) -> Result:
    return CliRunner().invoke(cli.app, [str(word) for word in words])


@pytest.fixture
def closed(house: BackedUp) -> BackedUp:
    house.journal.close()
    return house


def backup_of(house: BackedUp) -> str:
    done = run("backup", "--site", house.site)
    assert done.exit_code == 0, done.stderr
    return done.stdout.partition(":")[0]


def test_from_a_backup_to_a_site_that_can_be_checked(closed: BackedUp, tmp_path: Path) -> None:
    name = backup_of(closed)
    listed = run("backup", "list", "--site", closed.site)
    assert listed.stdout.startswith(name)
    checked = run("backup", "check", name, "--site", closed.site)
    assert (checked.exit_code, checked.stdout.startswith(f"{name} is whole")) == (0, True)
    done = run("restore", name, "--to", tmp_path / "again", "--site", closed.site)
    assert done.exit_code == 0, done.stderr
    assert f"Readings: {READINGS}, the newest of 2026-09-21 16:21 CEST" in done.stdout
    assert "Clutches: 1 open (Juniper), 0 closed." in done.stdout
    assert "(address hidden)" in done.stdout
    assert "S3CRET" not in done.stdout
    assert f"clutchwarden run {tmp_path / 'again'}" in done.stdout


def test_a_restore_needs_no_site_but_the_path_of_a_backup(closed: BackedUp, tmp_path: Path) -> None:
    place = closed.backups / backup_of(closed)
    done = run("restore", place, "--to", tmp_path / "again", "--site", tmp_path / "nowhere")
    assert done.exit_code == 0, done.stderr


def test_a_restore_onto_something_is_refused_as_a_slip(closed: BackedUp) -> None:
    name = backup_of(closed)
    done = run("restore", name, "--to", closed.site, "--site", closed.site)
    assert done.exit_code == 2
    assert "the folder is not empty. Nothing is ever overwritten" in done.stderr


def test_a_damaged_one_is_told_by_list_check_and_restore(closed: BackedUp, tmp_path: Path) -> None:
    name = backup_of(closed)
    (closed.backups / name / JOURNAL).write_bytes(b"x")
    assert (
        "cannot be used: its file journal.sqlite3 has another size"
        in run("backup", "list", "--site", closed.site).stdout
    )
    for words in (("backup", "check", name), ("restore", name, "--to", tmp_path / "again")):
        done = run(*words, "--site", closed.site)
        assert done.exit_code == 1
        assert "has another size. Take an older backup" in done.stderr


def test_one_that_does_not_exist_is_a_slip(closed: BackedUp) -> None:
    done = run("backup", "check", "2020", "--site", closed.site)
    assert done.exit_code == 2
    assert "there is no such backup" in done.stderr


def test_list_is_there_for_programs(closed: BackedUp) -> None:
    name = backup_of(closed)
    [found] = json.loads(run("backup", "list", "--json", "--site", closed.site).stdout)
    assert (found["name"], found["problem"], found["schema"], found["site"]) == (
        name,
        None,
        MIGRATIONS[-1].number,
        "Test house",
    )


def test_a_folder_that_is_not_mounted_is_told_with_exit_1_and_stays_on_record(closed: BackedUp) -> None:
    (closed.backups / MARKER).unlink()
    done = run("backup", "--site", closed.site)
    assert done.exit_code == 1
    assert f"clutchwarden backup --set-up {closed.backups}" in done.stderr
    assert "The last attempt failed" in run("backup", "list", "--site", closed.site).stdout


def test_setting_up_says_what_to_write_into_the_settings(tmp_path: Path) -> None:
    site = write_site(tmp_path / "site", 1883)
    done = run("backup", "--site", site)
    assert done.exit_code == 2
    assert "No backup folder is stated" in done.stderr
    done = run("backup", "--set-up", tmp_path / "there", "--site", site)
    assert done.exit_code == 0, done.stderr
    assert f'folder = "{tmp_path / "there"}"' in done.stdout
    assert "same disk" in done.stdout
    assert run("backup", "--set-up", tmp_path / "no" / "there", "--site", site).exit_code == 2


def test_check_says_once_and_calmly_that_none_is_configured(tmp_path: Path) -> None:
    site = write_site(tmp_path / "site", 1883)
    done = run("check", site)
    assert done.exit_code == 0
    assert done.stdout.count(NONE_CONFIGURED) == 1


def test_check_warns_of_a_folder_that_is_not_there_and_the_service_starts_all_the_same(closed: BackedUp) -> None:
    (closed.backups / MARKER).unlink()
    done = run("check", closed.site)
    assert done.exit_code == 0
    assert "backup.folder (warning)" in done.stdout
    assert NONE_CONFIGURED not in done.stdout


def test_settings_come_without_what_is_secret_by_its_type() -> None:
    text = '[broker]\nusername = "x"\npassword = "S3CRET"\npassword_file = "secrets/b"\n[web]\nport = 1 # S3CRET\n'
    kept = without_secrets(text)
    assert "S3CRET" not in kept
    assert 'username = "x"' in kept
    assert files_named(kept) == ("secrets/b",)
