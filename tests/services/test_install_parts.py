"""Parts of install.sh by themselves: what root leaves to the service, and the journal of before in its place again."""

import os
import re
import shutil
import sqlite3
import subprocess
import sys
from collections import Counter
from contextlib import closing
from pathlib import Path

import pytest

from tests.support.journals import new_journal

ROOT = Path(__file__).parent.parent.parent
PARTS = sorted((ROOT / "deploy" / "install").glob("*.sh"))
# One program with all that it sources; the others stand alone.
PROGRAMS = [
    [ROOT / "deploy" / "install.sh", *PARTS],
    *([script] for script in sorted(ROOT.glob("deploy/*/*.sh")) if script not in PARTS),
    [ROOT / "deploy" / "test-services.sh"],
]


def run(asked: str, **variables: object) -> subprocess.CompletedProcess[str]:
    """Ask functions of the parts, with the variables that install.sh would have set by then."""
    source = "; ".join(f". '{part}'" for part in PARTS)
    return subprocess.run(
        ["/bin/sh", "-euc", f"{source}; {asked}"],
        env={"PATH": os.environ["PATH"], **{name: str(value) for name, value in variables.items()}},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def content(folder: Path) -> dict[str, tuple[int, bytes]]:
    """Everything below a folder, with its mode; a link is what it leads to, by name."""
    found = {}
    for path in [folder, *folder.rglob("*")]:
        held = bytes(path.readlink()) if path.is_symlink() else path.read_bytes() if path.is_file() else b""
        found[str(path)] = (path.lstat().st_mode, held)
    return found


@pytest.mark.parametrize("program", PROGRAMS, ids=lambda scripts: scripts[0].name)
def test_no_function_is_there_twice(program: list[Path]) -> None:
    """The shell takes the last one, and says nothing."""
    whole = "\n".join(script.read_text(encoding="utf-8") for script in program)
    counted = Counter(re.findall(r"^(\w+) *\(\)", whole, re.MULTILINE))
    assert counted
    assert [name for name, times in counted.items() if times > 1] == []


@pytest.mark.parametrize(
    "asked",
    [
        "begin_site",
        "back_up",
        "no_backup",
        "give_up why",
        "keep_units && write_record",
        "put_back",
        "exchange_journals",
        "write_broker_settings",
    ],
)
def test_in_the_folders_of_the_service_root_does_nothing_itself(tmp_path: Path, asked: str) -> None:
    """There it would follow every link. The service does nothing in this test, so nothing may happen there at all."""
    outside, lib, opt, units = (tmp_path / name for name in ("outside", "lib", "opt", "units"))
    for folder in (outside / "units", lib / "site" / "data", opt / "venv-2", units):
        folder.mkdir(parents=True)
    for name in ("at-the-switch.sqlite3", "trial.sqlite3", "settings.toml", "units/clutchwarden.service"):
        (outside / name).write_text("as it was\n")
    (units / "clutchwarden.service").write_text("of root\n")
    (lib / "before-1").symlink_to(outside)
    (lib / "site" / "settings.toml").symlink_to(outside / "settings.toml")
    (lib / "site" / "data" / "journal.sqlite3").write_text("as it was\n")
    left = content(outside) | content(lib)

    # Asked for a schema it says 3, else it is silent.
    service = 'as_service() { echo "$*" >>"$log"; case "$*" in *" schema "*) echo 3 ;; esac; }'
    paths = {"opt": opt, "lib": lib, "site": lib / "site", "before": lib / "before-1", "records": opt / "before-venv-2"}
    facts = {"old": "venv-1", "name": "venv-2", "schema_old": 2, "schema_new": 3, "roles": "daemon", "backups": ""}
    journal = lib / "site" / "data" / "journal.sqlite3"
    more = {"units": units, "journal": journal, "facts_program": "stated.py", "prefix": tmp_path, "log": opt / "log"}
    run(f"{service}; {asked}", **paths, **facts, **more)

    assert content(outside) | content(lib) == left
    assert (units / "clutchwarden.service").read_text() == "of root\n"
    assert (opt / "log").exists() or (opt / "before-venv-2" / "upgrade").exists()


def test_who_may_not_go_back_is_told_before_anything_is_ended(tmp_path: Path) -> None:
    asked = 'read_schema() { schema=$says; [ "$says" != none ]; }; may_go_back; echo "it goes on"'
    stated = {"old": "venv-1", "name": "venv-2", "schema_old": 2, "before": tmp_path}
    assert "The journal cannot be read" in run(asked, **stated, schema_new=3, says="none").stderr
    assert "the copy to go back to is not there any more" in run(asked, **stated, schema_new=3, says=3).stderr
    for new, says in ((3, 2), (2, "none")):
        assert run(asked, **stated, schema_new=new, says=says).stdout == "it goes on\n"
    (tmp_path / "at-the-switch.sqlite3").touch()
    assert run(asked, **stated, schema_new=3, says=3).stdout == "it goes on\n"


def test_the_journal_of_before_comes_back_and_that_of_after_is_kept(tmp_path: Path) -> None:
    opt, site, before = tmp_path / "opt", tmp_path / "site", tmp_path / "before-1"
    for folder in (opt / "venv-1" / "bin", site, before):
        folder.mkdir(parents=True)
    (opt / "venv-1" / "bin" / "python").symlink_to(sys.executable)
    journal, switch = site / "data" / "journal.sqlite3", before / "at-the-switch.sqlite3"
    new_journal(journal).close()
    shutil.copy(journal, switch)
    with closing(sqlite3.connect(switch)) as conn, conn:
        newest = conn.execute("SELECT max(number) FROM migration").fetchone()[0]
        conn.execute("DELETE FROM migration WHERE number = ?", (newest,))
    paths = {"opt": opt, "lib": tmp_path, "site": site, "before": before, "records": opt / "before-venv-2"}
    facts = {"old": "venv-1", "name": "venv-2", "schema_old": newest - 1, "schema_new": newest, "roles": ""}
    more = {"facts_program": ROOT / "deploy" / "install" / "stated.py", "prefix": tmp_path}

    # One that cannot be read is left alone: what is wrong with its disk would befall the copy too.
    newer = journal.read_bytes()
    journal.write_bytes(b"no journal at all, but long enough for a header of one" * 40)
    said = run("put_back", **paths, **facts, **more).stdout
    assert f"The copy from the switch: {switch}" in said
    assert journal.read_bytes().startswith(b"no journal at all")

    # Nor is half of it moved.
    journal.write_bytes(newer)
    Path(f"{journal}-wal").touch()
    full = 'as_service() { case "$1 $2" in "mv "*/journal.sqlite3) return 1 ;; esac; "$@"; }'
    assert "could not be put back" in run(f"{full}; put_back", **paths, **facts, **more).stdout
    assert journal.read_bytes() == newer
    assert Path(f"{journal}-wal").exists()

    assert "The journal is again as it was" in run("put_back", **paths, **facts, **more).stdout
    for path, number in ((journal, newest - 1), (before / "journal-of-2.sqlite3", newest)):
        with closing(sqlite3.connect(path)) as conn:
            assert conn.execute("SELECT max(number) FROM migration").fetchone() == (number,)
    assert not list(journal.parent.glob("*.put-back*"))
    assert (opt / "venv").readlink() == Path("venv-1")


# A service manager with one unit: it runs by a file, does not start with the newer program, and what else happens at
# that moment is said by $at_stop, $at_newer, $at_older.
MANAGER = """
manages_services() { :; }
systemctl() {
    case "$*" in
    "stop "*) eval "$at_stop"; rm -f "$running/$2" ;;
    "restart "*)
        echo "$2 with $(in_use)" >>"$log"
        if [ "$(in_use)" = venv-2 ]; then eval "$at_newer"; return 1; fi
        eval "$at_older"
        touch "$running/$2"
        ;;
    "--quiet is-active "*) [ -f "$running/$3" ] ;;
    daemon-reload) ;;
    *) echo "not known: $*" >>"$log" ;;
    esac
}
"""


@pytest.fixture
def upgraded(tmp_path: Path) -> dict[str, object]:
    """An upgrade just before it ends the service: what install.sh has in its variables, with the folders."""
    opt, units, running, scratch = (tmp_path / name for name in ("opt", "units", "running", "scratch"))
    for folder in (opt / "venv-1", opt / "venv-2", units, running, scratch):
        folder.mkdir(parents=True)
    (opt / "venv").symlink_to("venv-1")
    (units / "clutchwarden.service").write_text("of the older program\n")
    (running / "clutchwarden.service").touch()
    paths = {"opt": opt, "units": units, "running": running, "scratch": scratch, "log": tmp_path / "log", "tree": ROOT}
    places = {"site": tmp_path / "site", "before": tmp_path / "before-1", "records": opt / "before-venv-2"}
    facts = {"old": "venv-1", "name": "venv-2", "schema_old": 2, "schema_new": 2, "roles": "daemon"}
    how = {"mode": "do", "acts": 0, "settle_s": 0, "prefix": tmp_path, "command_file": tmp_path / "command"}
    return {**paths, **places, **facts, **how, "lib": tmp_path, "at_stop": "", "at_newer": "", "at_older": ""}


def assert_the_older_program_runs(upgraded: dict[str, object]) -> None:
    opt, units, running, log = (Path(str(upgraded[name])) for name in ("opt", "units", "running", "log"))
    assert (opt / "venv").readlink() == Path("venv-1")
    assert (units / "clutchwarden.service").read_text() == "of the older program\n"
    assert (running / "clutchwarden.service").exists()
    assert log.read_text().splitlines()[-1] == "clutchwarden.service with venv-1"
    assert "not known" not in log.read_text()
    assert not (opt / "were-running").exists()


@pytest.mark.parametrize("shown", ["", "exec >/dev/full 2>&1;"], ids=["told", "terminal full or gone"])
@pytest.mark.parametrize(
    "at",
    [
        {},
        {"at_newer": "kill -HUP $$", "at_older": "kill -HUP $$; kill -INT $$; kill -PIPE $$"},
        {"at_stop": "kill -INT $$"},
    ],
    ids=["it does not start", "terminal lost while it starts", "stopped by hand while the old one ends"],
)
def test_an_upgrade_that_fails_starts_what_it_has_ended(
    upgraded: dict[str, object], at: dict[str, str], shown: str
) -> None:
    done = run(f"{MANAGER} {shown} change_over", **{**upgraded, **at})
    assert done.returncode == 1
    assert shown or "The upgrade did not work, and venv-1 is in use again" in done.stderr
    assert_the_older_program_runs(upgraded)
    assert not (Path(str(upgraded["records"])) / "upgrade").exists()


@pytest.mark.parametrize("shown", ["", "exec >/dev/full 2>&1;"], ids=["told", "terminal full or gone"])
def test_going_back_by_hand_is_carried_to_its_end(upgraded: dict[str, object], shown: str) -> None:
    interrupted = "kill -HUP $$; kill -INT $$; kill -TERM $$"
    at = {"at_stop": interrupted, "at_older": interrupted}
    done = run(f"{MANAGER} {shown} keep_units; write_record; use venv-2; back_now", **{**upgraded, **at})
    assert done.returncode == 0, done.stderr
    assert shown or "venv-1 is in use again. Running: daemon" in done.stdout
    assert_the_older_program_runs(upgraded)


NO_ROOM = "put_now() { echo 'No space left on device' >&2; return 1; };"


def test_what_cannot_be_put_back_keeps_no_service_ended(upgraded: dict[str, object]) -> None:
    done = run(
        f"{MANAGER} put_now() {{ :; }}; keep_units; use venv-2; moved=yes; {NO_ROOM} note_running; go_back why",
        **upgraded,
    )
    assert done.returncode == 1
    assert "Not all of venv-1 could be put back" in done.stdout
    assert "No space left on device" in done.stderr
    log = Path(str(upgraded["log"]))
    assert log.read_text().splitlines()[-1] == "clutchwarden.service with venv-1"
    assert "Running: daemon" in done.stderr


def test_where_the_older_program_cannot_be_taken_up_again_nobody_is_told_that_it_is(
    upgraded: dict[str, object],
) -> None:
    broken = "use() { echo 'No space left on device' >&2; return 1; };"
    done = run(f"{MANAGER} use venv-2; moved=yes; {broken} note_running; go_back why", **upgraded)
    assert done.returncode == 1
    assert "The upgrade did not work, nor did going back: venv-2 is in use: why." in done.stderr


def test_going_back_by_hand_starts_each_service_whatever_becomes_of_the_others(upgraded: dict[str, object]) -> None:
    units, running = (Path(str(upgraded[name])) for name in ("units", "running"))
    (running / "clutchwarden-probe.service").touch()
    (units / "clutchwarden-probe.service").write_text("of the older program\n")
    at_older = '[ "$2" != clutchwarden.service ] || return 1'
    stated = {**upgraded, "roles": "daemon probe", "at_older": at_older}
    done = run(f"{MANAGER} keep_units; write_record; use venv-2; back_now", **stated)
    assert done.returncode == 1
    assert "Going back to venv-1 did not work: clutchwarden.service does not start" in done.stderr
    assert [each.name for each in running.iterdir()] == ["clutchwarden-probe.service"]


def test_a_dry_run_without_root_is_only_for_where_nothing_is_installed(tmp_path: Path) -> None:
    places = {name: tmp_path / name for name in ("opt", "lib", "etc", "mosquitto")}

    def may(user: int, dry: str) -> bool:
        return run(f"id() {{ echo {user}; }}; may_see_all", **places, dry=dry).returncode == 0

    assert [may(0, ""), may(0, "yes"), may(1000, "yes"), may(1000, "")] == [True, True, True, False]
    # What was recorded stays when the program is taken off, and others see nothing of it.
    for place in (tmp_path / name for name in ("opt/venv", "lib", "etc", "mosquitto/clutchwarden")):
        place.mkdir(parents=True)
        assert [may(0, "yes"), may(1000, "yes")] == [True, False]
        place.rmdir()


def test_a_password_that_is_there_stays_with_root(tmp_path: Path) -> None:
    """A credential lies there too. Only the empty file that the agent begins is given to the service."""
    program = tmp_path / "opt" / "venv" / "bin" / "clutchwarden"
    program.parent.mkdir(parents=True)
    program.write_text('#!/bin/sh\necho "[broker]" >"$3"\n: >"${3%/*}/broker-password"\n')
    program.chmod(0o755)
    etc = tmp_path / "etc"
    etc.mkdir()
    (etc / "north-air-password").write_text("a secret\n")
    said = run('own() { echo "$@"; }; begin_probe_file', opt=tmp_path / "opt", etc=etc).stdout.splitlines()
    assert said == [f"root:clutchwarden {etc}/probe.toml", f"clutchwarden:clutchwarden {etc}/broker-password"]


def test_a_service_starts_again_for_a_changed_unit_and_not_for_a_changed_readme(upgraded: dict[str, object]) -> None:
    opt, units, log = (Path(str(upgraded[name])) for name in ("opt", "units", "log"))
    shutil.copy(ROOT / "deploy" / "systemd" / "clutchwarden.service", units)
    (opt / "README.md").write_text("of before\n")
    stated = {**upgraded, "code": "of this tree", "wheels": ""}
    (opt / "venv-1" / "built-from").write_text("of this tree\n")

    run(f"{MANAGER} upgrade", **stated)
    assert (opt / "README.md").read_bytes() == (ROOT / "README.md").read_bytes()
    assert not log.exists()

    (units / "clutchwarden.service").write_text("of before\n")
    run(f"{MANAGER} upgrade", **stated)
    assert log.read_text() == "clutchwarden.service with venv-1\n"
