"""The demo as a stranger starts it: one command, everything shown, nothing left behind."""

import json
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

import httpx
import pytest

from config.check import check_site
from daemon.demo import scenario
from daemon.demo.stage import FAILS_AFTER_S, SIGNED_IN_FAILS_AFTER_S
from tests.support.accounts import PASSWORD
from tests.support.processes import Service, free_port, wait_until

SECONDS = "45"
LARGEST_RESIDENT_KB = 200_000


def resident_kb(process: int) -> int:
    """Resident memory of a process, from Linux' own account of it."""
    lines = Path(f"/proc/{process}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS"))


def fetch(url: str) -> str:
    with urllib.request.urlopen(url, timeout=60) as answer:
        return str(answer.read().decode())


def test_the_demo_shows_the_way_from_a_failing_heater_to_a_phone_and_leaves_nothing(tmp_path: Path) -> None:
    port = free_port()
    command = [sys.executable, "-m", "daemon.cli", "demo", "--no-browser", "--json"]
    demo = Service(
        [*command, "--seconds", SECONDS, "--port", str(port)], tmp_path / "demo.log", {"TMPDIR": str(tmp_path)}
    )
    demo.start()
    try:
        inbox = f"http://127.0.0.1:{port}/inbox"
        wait_until(lambda: "Status page" in demo.output() or not demo.running, "the pages", 60)
        wait_until(lambda: "too cool" in fetch(inbox), "the alert in the inbox", 60)
        page = fetch(f"http://127.0.0.1:{port}/")
        assert "300 times faster" in page
        for clutch in scenario.CLUTCHES:
            assert clutch.label in page
        assert demo.process is not None
        if sys.platform == "linux":
            assert resident_kb(demo.process.pid) < LARGEST_RESIDENT_KB
        wait_until(lambda: not demo.running, "the end", 90)
        assert demo.stop() == 0
    finally:
        demo.stop()
    counted = json.loads(demo.output().splitlines()[-1])
    assert counted["samples_stored"] > 100_000
    assert counted["alarms_raised"] >= 1
    assert counted["alerts_delivered"] >= 1
    assert counted["clutches_with_heat"] == 9  # three of them by one usual duration
    assert [path.name for path in tmp_path.iterdir()] == ["demo.log"]


def test_ctrl_c_ends_the_demo_in_good_order(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "daemon.cli", "demo", "--no-browser", "--json", "--port", str(free_port())]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "TMPDIR": str(tmp_path), "PYTHONUNBUFFERED": "1"},
    ) as demo:
        assert demo.stderr is not None
        for line in demo.stderr:
            if "has failed" in line:
                break
        demo.send_signal(signal.SIGINT)
        try:
            output, _ = demo.communicate(timeout=60)
        except subprocess.TimeoutExpired:
            demo.kill()
            raise
    assert demo.returncode == 0
    assert json.loads(output.splitlines()[-1])["samples_stored"] > 0
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("incubator", ["north", "warm"])
def test_the_invented_clutches_suit_their_place_and_have_a_profile(incubator: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        scenario.write_site(Path(folder), 8330, 1883)
        checked = check_site(Path(folder))
    assert checked.site is not None
    set_point_c = scenario.SET_POINTS_C[incubator]
    for clutch in scenario.CLUTCHES:
        if clutch.place.startswith(incubator):
            profile = checked.profiles[clutch.species_id]
            assert profile.temperature.low.value < set_point_c < profile.temperature.high.value


def test_with_sign_in_the_demo_prints_a_code_and_shows_nothing_without_it(tmp_path: Path) -> None:
    port = free_port()
    command = [sys.executable, "-m", "daemon.cli", "demo", "--no-browser", "--json", "--sign-in", "--port", str(port)]
    demo = Service(command, tmp_path / "demo.log", {"TMPDIR": str(tmp_path)})
    demo.start()
    try:
        wait_until(lambda: "enter this code" in demo.output() or not demo.running, "the code", 60)
        # Longer than the demo waits in either case, so what would fail by itself has failed.
        began_s, wait_s = time.monotonic(), max(FAILS_AFTER_S, SIGNED_IN_FAILS_AFTER_S) + 2
        wait_until(lambda: time.monotonic() - began_s > wait_s, "the time at which it would fail", 30)
        [code] = re.findall(r"[0-9A-Z]{4}(?:-[0-9A-Z]{4}){5}", demo.output())
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=60) as browser:
            assert browser.get("/").headers["Location"] == "/sign-in"
            fields = {"code": code, "name": "ana", "new": PASSWORD, "again": PASSWORD}
            # Nothing fails before somebody is there to see it.
            assert "has failed" not in demo.output()
            assert browser.post("/welcome", data=fields).status_code == 303
            assert "300 times faster" in browser.get("/").text
            wait_until(lambda: "has failed" in demo.output(), "the failure", 60)
            # The demo's own messages come in without a password, and its clock ends no session early.
            wait_until(lambda: "too cool" in browser.get("/inbox").text, "the alert in the inbox", 60)
    finally:
        demo.stop()
