"""The units for systemd, by systemd's own word: nothing in them is unknown to it, and little is open to them.

`systemd-analyze verify` looks whether programs are there, so the units are looked at as copies in which the path of the
environment that `deploy/install.sh` makes is that of an executable file here.
"""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from daemon.commands.late import LATE
from tests.conftest import require

UNITS = Path(__file__).parents[2] / "deploy" / "systemd"
NAMES = ("clutchwarden", "clutchwarden-probe", "clutchwarden-watcher")
PROGRAM = "/opt/clutchwarden/venv/bin/clutchwarden"
EXPOSURE = 20
"""In tenths, of `systemd-analyze security`."""
LARGEST_AGENT_MB = 40


@pytest.fixture(scope="module")
def analyze() -> str:
    """systemd-analyze, as Debian's package `systemd` brings it."""
    return require(shutil.which("systemd-analyze"), "systemd-analyze")


def text(name: str) -> str:
    return (UNITS / f"{name}.service").read_text(encoding="utf-8")


def stated(name: str, key: str) -> list[str]:
    """All values of a key, in order; comments say nothing."""
    return re.findall(rf"^{key}=(.*)$", text(name), re.MULTILINE)


def verified(analyze: str, folder: Path, change: tuple[str, str] = ("", "")) -> str:
    """What systemd has to say of copies of all units; nothing where all is well."""
    program = folder / "clutchwarden"
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    copies = []
    for name in NAMES:
        assert text(name).count(PROGRAM) == 1
        copies.append(folder / f"{name}.service")
        copies[-1].write_text(text(name).replace(PROGRAM, str(program)).replace(*change))
    asked = [analyze, "verify", "--man=no", *map(str, copies)]
    done = subprocess.run(asked, capture_output=True, text=True, timeout=60, check=False)
    return f"{done.stdout}{done.stderr}" + (f"exit {done.returncode}" if done.returncode else "")


@pytest.mark.services
def test_systemd_knows_every_word_of_the_units(analyze: str, tmp_path: Path) -> None:
    assert verified(analyze, tmp_path) == ""
    assert "WatchdogSecs" in verified(analyze, tmp_path, ("WatchdogSec=", "WatchdogSecs="))


@pytest.mark.services
@pytest.mark.parametrize("name", NAMES)
def test_little_is_open_to_a_unit(analyze: str, name: str) -> None:
    asked = [analyze, "security", "--offline=true", f"--threshold={EXPOSURE}", "--no-pager"]
    asked.append(str(UNITS / f"{name}.service"))
    done = subprocess.run(asked, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Overall exposure level" in done.stdout


@pytest.mark.parametrize("name", NAMES)
def test_a_unit_is_started_again_for_ever_and_waits_for_neither_network_nor_clock(name: str) -> None:
    assert stated(name, "Type") == ["notify"]
    assert stated(name, "NotifyAccess") == ["main"]
    assert stated(name, "Restart") == ["always"]
    assert stated(name, "StartLimitIntervalSec") == ["0"]
    assert stated(name, "User") == ["clutchwarden"]
    assert stated(name, "StateDirectory") == [name]
    for key in ("After", "Wants", "Requires", "BindsTo", "Requisite"):
        for word in " ".join(stated(name, key)).split():
            assert word not in {"network-online.target", "time-sync.target", "systemd-time-wait-sync.service"}
    # A secret may stand in a drop-in; what all installations share names none.
    assert not stated(name, "LoadCredential")
    assert not stated(name, "SetCredential")


@pytest.mark.parametrize("name", NAMES)
def test_the_command_of_a_unit_is_one_of_clutchwarden(name: str) -> None:
    [command] = stated(name, "ExecStart")
    program, word, file = command.split()
    assert program == PROGRAM
    assert word in LATE
    assert file.startswith(("/etc/clutchwarden/", "/var/lib/clutchwarden/"))


@pytest.mark.parametrize("name", ["clutchwarden", "clutchwarden-probe"])
def test_who_dates_readings_may_ask_whether_the_clock_is_right(name: str) -> None:
    # ProtectClock= and @system-service alone refuse adjtimex(2), so that no reading would ever be dated.
    assert not stated(name, "ProtectClock")
    assert "adjtimex clock_adjtime clock_adjtime64" in stated(name, "SystemCallFilter")
    # /proc/sys/kernel/random/boot_id is out of sight with ProcSubset=pid.
    assert not stated(name, "ProcSubset")


def test_times_fit_what_the_programs_need() -> None:
    # A look back through late readings may take half a minute, many times that on a small board.
    assert int(stated("clutchwarden", "WatchdogSec")[0]) >= 120
    # Evaluation 30, journal 30, courier, letters, broker, backups 10 each, pages 7, guard and mirror 5 each.
    assert int(stated("clutchwarden", "TimeoutStopSec")[0]) >= 30 + 30 + 4 * 10 + 7 + 2 * 5
    # A command of a contact may be given 30 s.
    assert int(stated("clutchwarden-probe", "WatchdogSec")[0]) >= 4 * 30


def test_the_agent_has_room_for_itself_and_not_for_the_whole_board() -> None:
    [most] = stated("clutchwarden-probe", "MemoryMax")
    assert 2 * LARGEST_AGENT_MB <= int(most.removesuffix("M")) <= 512 // 4
