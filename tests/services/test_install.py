"""What install.sh does, below a folder of the test's own: it makes no user there and starts nothing.

The environments of Python that it would build are stand-ins that lead to the interpreter of the tests.
"""

import fcntl
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from config.settings import load_settings
from config.site import STARTER
from tests.conftest import require
from tests.support.journals import new_journal

ROOT = Path(__file__).parent.parent.parent
SCRIPT = ROOT / "deploy" / "install.sh"
SCRIPTS = sorted([SCRIPT, *ROOT.glob("deploy/**/*.sh")])
FACTS = ROOT / "deploy" / "install" / "stated.py"


def install(prefix: Path, *arguments: str, good: bool = True, script: Path = SCRIPT) -> str:
    """Run install.sh below a folder; gives what it said. The environment has nothing of the test's own in it."""
    done = subprocess.run(
        ["/bin/sh", str(script), "--prefix", str(prefix), "--python", sys.executable, *arguments],
        env={"PATH": os.environ["PATH"], "HOME": str(prefix)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=110,
    )
    assert (done.returncode == 0) is good, done.stdout + done.stderr
    return done.stdout + done.stderr


def done_by(said: str) -> list[str]:
    """The lines of what was done, below the plan."""
    return [line for line in said.partition("\nNow:\n")[2].splitlines() if line.startswith("- ")]


def code_of_source(tree: Path) -> str:
    """What install.sh writes beside an environment that it has built from a tree."""
    ask = 'tree=$1 wheels=""; . "$tree/deploy/install/program.sh"; code_of_source'
    done = subprocess.run(["/bin/sh", "-c", ask, "sh", str(tree)], check=True, capture_output=True, text=True)
    return done.stdout.strip()


def build(prefix: Path, name: str, code: str) -> None:
    """A stand-in for an environment that was built before."""
    programs = prefix / "opt" / "clutchwarden" / name / "bin"
    programs.mkdir(parents=True)
    for program in ("clutchwarden", "python"):
        (programs / program).symlink_to(Path(sys.executable).parent / program)
    (programs.parent / "built-from").write_text(code + "\n")


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_a_shell_of_the_plainest_kind_can_read_every_script(script: Path) -> None:
    subprocess.run(["/bin/sh", "-n", str(script)], check=True)


@pytest.mark.services
def test_nothing_in_the_scripts_is_known_to_go_wrong() -> None:
    checker = require(shutil.which("shellcheck"), "shellcheck")
    # What install.sh sources is checked with it.
    scripts = [str(script) for script in SCRIPTS if script.parent.name != "install"]
    done = subprocess.run(
        [checker, "-x", "--severity=warning", *scripts],
        cwd=ROOT / "deploy",
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


def test_a_dry_run_says_everything_and_does_nothing(tmp_path: Path) -> None:
    said = install(tmp_path, "daemon", "probe", "watcher", "broker", "--dry-run")
    for place in (
        "opt/clutchwarden/venv-",
        "var/lib/clutchwarden/site",
        "etc/clutchwarden/probe.toml",
        "etc/clutchwarden/watch.toml",
        "etc/systemd/system/clutchwarden.service",
        "etc/systemd/system/clutchwarden-probe.service",
        "etc/systemd/system/clutchwarden-watcher.service",
        "etc/mosquitto/conf.d/clutchwarden.conf",
        "usr/local/bin/clutchwarden",
    ):
        assert f"{tmp_path}/{place}" in said
    assert list(tmp_path.iterdir()) == []


def test_without_a_word_of_agreement_nothing_is_done(tmp_path: Path) -> None:
    assert "Give --yes" in install(tmp_path, good=False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["demon"], '"demon" is nothing that this script knows'),
        (["--wheels"], "--wheels needs a word after it"),
        (["upgrade", "probe"], "upgrade is about all that is installed"),
        (["--wheels", "/"], "/ has no clutchwarden-"),
        (["upgrade", "--yes"], "Nothing is installed"),
        (["back", "--yes"], "Nothing is installed"),
        (["uninstall", "broker", "--yes"], "Mosquitto is not taken off by this script"),
    ],
)
def test_a_slip_is_named(tmp_path: Path, arguments: list[str], told: str) -> None:
    assert told in install(tmp_path, *arguments, good=False)


def test_help_needs_no_rights_and_names_every_word() -> None:
    said = subprocess.run(["/bin/sh", str(SCRIPT), "--help"], check=True, capture_output=True, text=True).stdout
    for word in ("daemon", "probe", "watcher", "broker", "upgrade", "back", "uninstall", "--dry-run", "--wheels"):
        assert word in said


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what an environment is built from: nobody changes it meanwhile, so nothing has to be built."""
    copy = tmp_path_factory.mktemp("tree")
    for name in ("config", "sensors", "daemon", "dashboards", "deploy"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__", "private"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, copy / name)
    return copy


def test_installed_upgraded_taken_back_and_removed(tmp_path: Path, tree: Path) -> None:
    """One story, since each step stands on the one before."""
    script = tree / "deploy" / "install.sh"
    program, site = tmp_path / "opt" / "clutchwarden", tmp_path / "var" / "lib" / "clutchwarden" / "site"
    build(tmp_path, "venv-0.0.9", "of an older tree")
    (program / "venv").symlink_to("venv-0.0.9")
    _install(tmp_path, script)

    new_journal(site / "data" / "journal.sqlite3").close()
    newer = _name_of_this_version()
    build(tmp_path, newer, code_of_source(tree))
    _upgrade(tmp_path, script, newer)

    install(tmp_path, "back", "--yes", script=script)
    assert (program / "venv").readlink() == Path("venv-0.0.9")
    assert "nothing to go back to" in install(tmp_path, "back", "--yes", good=False, script=script)

    _upgrade_that_is_refused(tmp_path, script, newer)
    _remove(tmp_path, script)
    assert (site / "data" / "journal.sqlite3").is_file()


def _install(prefix: Path, script: Path) -> None:
    """What stands there already is kept, and a second time there is nothing left to do."""
    site, etc = prefix / "var" / "lib" / "clutchwarden" / "site", prefix / "etc"
    said = install(prefix, "daemon", "watcher", "--yes", script=script)
    assert "venv-0.0.9 is installed and stays in use" in said
    assert {path.name for path in site.iterdir()} == {"site.toml", "settings.toml", "secrets"}
    assert site.stat().st_mode & 0o777 == 0o700
    watch = etc / "clutchwarden" / "watch.toml"
    assert 'state_file = "/var/lib/clutchwarden-watcher/' in watch.read_text()
    assert watch.stat().st_mode & 0o007 == 0
    for name in ("clutchwarden.service", "clutchwarden-watcher.service"):
        assert (etc / "systemd" / "system" / name).read_text() == (ROOT / "deploy" / "systemd" / name).read_text()
    (site / "site.toml").write_text((STARTER / "site.toml").read_text() + "\n# of the keeper\n")
    assert done_by(install(prefix, "daemon", "watcher", "--yes", script=script)) == []
    assert "# of the keeper" in (site / "site.toml").read_text()


def _upgrade(prefix: Path, script: Path, newer: str) -> None:
    """A backup first, then the newer program, which is the one of this tree."""
    program, lib = prefix / "opt" / "clutchwarden", prefix / "var" / "lib" / "clutchwarden"
    said = install(prefix, "upgrade", "--yes", script=script)
    assert (program / "venv").readlink() == Path(newer)
    before = lib / "before-0.0.9"
    [backup] = before.glob("20*")
    assert (backup / "manifest.json").is_file()
    assert not list(before.glob("trial*"))
    assert "goes back to venv-0.0.9 and loses nothing" in said
    # What root goes by later lies in no folder of the service, which could put units of its own there.
    assert not [each for each in before.rglob("*") if each.name in {"units", "upgrade"}]
    assert (program / f"before-{newer}" / "units" / "clutchwarden.service").is_file()
    assert done_by(install(prefix, "upgrade", "--yes", script=script)) == []


def _upgrade_that_is_refused(prefix: Path, script: Path, newer: str) -> None:
    """A newer program that cannot use what is stated: everything stays, and no copies lie about."""
    program, lib = prefix / "opt" / "clutchwarden", prefix / "var" / "lib" / "clutchwarden"
    refusing = program / newer / "bin" / "clutchwarden"
    refusing.unlink()
    refusing.write_text("#!/bin/sh\nexit 2\n")
    refusing.chmod(0o755)
    said = install(prefix, "upgrade", "--yes", good=False, script=script)
    assert "Nothing is changed, and venv-0.0.9 goes on" in said
    assert (program / "venv").readlink() == Path("venv-0.0.9")
    assert [path.name for path in lib.iterdir() if path.name.startswith("before")] == ["before-0.0.9"]


def _remove(prefix: Path, script: Path) -> None:
    """Take all of it off: the record stays, and it is said where; so does what the keeper put beside a unit."""
    program, units = prefix / "opt" / "clutchwarden", prefix / "etc" / "systemd" / "system"
    drop_in = units / "clutchwarden.service.d" / "password.conf"
    drop_in.parent.mkdir()
    drop_in.write_text("[Service]\nLoadCredential=broker-password:/etc/clutchwarden/word\n")
    with (program / ".lock").open("a") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        assert "Another install.sh is at work here" in install(prefix, "uninstall", "--yes", good=False, script=script)
    assert program.exists()
    said = install(prefix, "uninstall", "watcher", "--yes", script=script)
    assert "The program stays for: daemon" in said
    said = install(prefix, "uninstall", "--yes", script=script)
    assert f"Left as it is: {prefix}/var/lib/clutchwarden" in said
    assert not program.exists()
    assert list(units.rglob("*")) == [drop_in.parent, drop_in]
    assert f"Left as it is: {drop_in.parent}" in said


def test_a_name_is_free_only_where_not_even_a_link_that_leads_nowhere_is(tmp_path: Path) -> None:
    (tmp_path / "before").symlink_to(tmp_path / "nowhere")
    (tmp_path / "before.2").mkdir()
    ask = '. "$1/deploy/install/words.sh"; free_name "$2"'
    done = subprocess.run(
        ["/bin/sh", "-c", ask, "sh", str(ROOT), str(tmp_path / "before")], check=True, capture_output=True, text=True
    )
    assert done.stdout == f"{tmp_path}/before.3\n"


def _name_of_this_version() -> str:
    line = next(line for line in (ROOT / "pyproject.toml").read_text().splitlines() if line.startswith("version"))
    return f"venv-{line.split(chr(34))[1]}"


def test_facts_of_a_site_are_those_that_the_program_goes_by(tmp_path: Path) -> None:
    def facts(*arguments: object, good: bool = True) -> str:
        done = subprocess.run(
            [sys.executable, "-I", str(FACTS), *map(str, arguments)], capture_output=True, text=True, check=False
        )
        assert (done.returncode == 0) is good, done.stderr
        return done.stdout.strip()

    assert facts("journal", tmp_path) == str(load_settings(tmp_path).storage.journal)
    assert (facts("backups", tmp_path), load_settings(tmp_path).backup.folder) == ("", None)
    (tmp_path / "settings.toml").write_text('[storage]\njournal = "/srv/j.sqlite3"\n[backup]\nfolder = "copies"\n')
    assert facts("journal", tmp_path) == str(load_settings(tmp_path).storage.journal) == "/srv/j.sqlite3"
    assert facts("backups", tmp_path) == str(load_settings(tmp_path).backup.folder) == f"{tmp_path}/copies"
    (tmp_path / "settings.toml").write_text("[storage\n")
    facts("journal", tmp_path, good=False)

    assert facts("schema", tmp_path / "none") == "0"
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        # While it is open and has a log beside it: all of it is in the copy.
        journal.write(lambda conn: conn.execute("CREATE TABLE while_it_runs (x INTEGER) STRICT"))
        facts("copy", tmp_path / "journal.sqlite3", tmp_path / "copy.sqlite3")
        facts("copy", tmp_path / "journal.sqlite3", tmp_path / "copy.sqlite3", good=False)
    with closing(sqlite3.connect(tmp_path / "copy.sqlite3")) as conn:
        assert conn.execute("SELECT count(*) FROM while_it_runs").fetchone() == (0,)
        newest = conn.execute("SELECT max(number) FROM migration").fetchone()[0]
    assert facts("schema", tmp_path / "copy.sqlite3") == str(newest)
