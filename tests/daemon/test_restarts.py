"""What stays of a daemon that starts anew in the same process, and what must not."""

import gc
import socket
import subprocess
import sys
import threading
import weakref
from collections.abc import Callable
from pathlib import Path

import pytest

from daemon.clock import SystemClock
from daemon.commands.site_folder import read_site
from daemon.kept import Kept
from daemon.kept_port import KeptPort
from daemon.restarts import Restarts, keep_running
from daemon.service import Service
from daemon.stated import Stated
from tests.support.household import write_site
from tests.support.processes import free_port, wait_until


def listening(host: str, port: int) -> socket.socket:
    made = socket.create_server((host, port))
    made.listen()
    return made


def test_who_connects_while_nobody_serves_is_served_afterwards() -> None:
    kept, port = KeptPort(), free_port()
    first = kept.lend("127.0.0.1", port, lambda: listening("127.0.0.1", port))
    first.close()
    with socket.create_connection(("127.0.0.1", port), timeout=5) as caller:
        caller.sendall(b"hello")
        second = kept.lend("127.0.0.1", port, lambda: listening("127.0.0.1", port))
        taken, _ = second.accept()
        assert taken.recv(5) == b"hello"
        taken.close()
    second.close()
    kept.close()
    with socket.socket() as other:
        other.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        other.bind(("127.0.0.1", port))


def test_another_port_takes_the_place_of_the_one_that_was_kept() -> None:
    kept, old, new = KeptPort(), free_port(), free_port()
    kept.lend("127.0.0.1", old, lambda: listening("127.0.0.1", old)).close()
    kept.lend("127.0.0.1", new, lambda: listening("127.0.0.1", new)).close()
    listening("127.0.0.1", old).close()
    kept.close()


def test_a_wish_is_one_new_start_and_an_end_is_the_end() -> None:
    restarts = Restarts()
    restarts.wish()
    restarts.wish()
    assert restarts.wait()
    assert not restarts.over_within(0)
    restarts.wish()
    restarts.end()
    assert not restarts.wait()
    assert restarts.over_within(0)


def test_topics_that_are_not_wanted_any_more_are_named_once_and_come_back_when_they_are() -> None:
    kept = Kept()
    assert kept.no_more(("a", "b")) == ()
    assert kept.no_more(("a",)) == ("b",)
    assert kept.no_more(("a", "b")) == ()


def test_nothing_of_an_ended_daemon_stays_in_memory(tmp_path: Path) -> None:
    whole = read_site(write_site(tmp_path / "site", free_port()))
    kept, ended = Kept(), []
    for _ in range(2):
        service = Service(Stated(whole.folder, whole.site, whole.settings, whole.profiles), SystemClock(), kept=kept)
        service.start()
        service.stop()
        ended.append(weakref.ref(service))
        del service
    kept.port.close()
    gc.unfreeze()
    gc.collect()
    assert [each() for each in ended] == [None, None]


class Fake:
    """Something to run that needs nothing, and tells what was remarked."""

    def __init__(self) -> None:
        self.remarks: list[str] = []

    def start(self) -> None:
        """Nothing."""

    def stop(self) -> None:
        """Nothing."""

    def remark(self, sentence: str) -> None:
        self.remarks.append(sentence)


def raising(error: Exception) -> Callable[[], Stated]:
    def load() -> Stated:
        raise error

    return load


def stated_in(folder: Path) -> Stated:
    whole = read_site(write_site(folder, free_port()))
    return Stated(whole.folder, whole.site, whole.settings, whole.profiles)


@pytest.mark.parametrize("error", [ValueError("embedded null byte"), RecursionError("too deep")])
def test_whatever_is_wrong_with_the_files_the_watch_goes_on(tmp_path: Path, error: Exception) -> None:
    restarts, service = Restarts(), Fake()
    running = threading.Thread(
        target=keep_running, args=(stated_in(tmp_path / "site"), raising(error), lambda _stated: service, restarts)
    )
    running.start()
    restarts.wish()
    wait_until(lambda: bool(service.remarks), "the remark")
    assert running.is_alive()
    assert str(error) in service.remarks[0]
    restarts.end()
    running.join(10)
    assert not running.is_alive()


def test_a_wish_while_one_waits_for_the_end_is_kept() -> None:
    restarts = Restarts()
    restarts.wish()
    assert not restarts.over_within(0.01)
    restarts.wish()
    assert restarts.wait()


_SIGNALLED = """
import os, signal, sys
from daemon.restarts import Restarts
restarts = Restarts()
def line(frame, event, _argument):
    if frame.f_code.co_filename != "<string>":
        os.kill(os.getpid(), signal.SIGHUP)
    return line
signal.signal(signal.SIGHUP, lambda *_: restarts.wish())
sys.settrace(line)
restarts.wish()
restarts.end()
sys.settrace(None)
print(restarts.wait())
"""


def test_signals_that_come_while_one_is_being_taken_up_stop_nothing() -> None:
    """In every line of a wish the same signal comes once more, as two supervisors may send it by chance."""
    done = subprocess.run([sys.executable, "-c", _SIGNALLED], capture_output=True, text=True, timeout=30, check=True)
    assert done.stdout == "False\n"


def test_pages_that_are_switched_off_leave_no_port_behind(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "site", free_port())
    whole, kept = read_site(folder), Kept()
    web = whole.settings.web
    kept.port.lend("127.0.0.1", web.port, lambda: listening("127.0.0.1", web.port)).close()
    off = whole.settings.model_copy(update={"web": web.model_copy(update={"enabled": False})})
    service = Service(Stated(whole.folder, whole.site, off, whole.profiles), SystemClock(), kept=kept)
    service.start()
    try:
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("127.0.0.1", web.port), timeout=5)
    finally:
        service.stop()
        kept.port.close()
