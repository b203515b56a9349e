"""Contacts by a file and by a command: two stated words are states, all else is none, and nothing waits without end."""

import os
import sys
import time
from pathlib import Path

import pytest

from sensors.linux.addresses import ContactCommand, ContactFile
from sensors.linux.reading import read
from sensors.linux.values import Answer, Fault, FaultKind, Value
from tests.support.processes import wait_until


def by_file(path: Path, max_age_s: float = 0.0) -> Answer:
    return read(ContactFile(str(path), "1", "0", max_age_s), Path("/sys"))


def by_command(*words: str, timeout_s: float = 10.0) -> Answer:
    return read(ContactCommand(words, "active", "inactive", timeout_s), Path("/sys"))


def kind_of(answer: Answer) -> FaultKind:
    assert isinstance(answer, Fault)
    return answer.kind


@pytest.mark.parametrize(
    ("text", "answer"), [("1\n", Value(1.0, "/")), ("0\n", Value(0.0, "/")), (" 1 ", Value(1.0, "/"))]
)
def test_a_file_says_one_or_zero(tmp_path: Path, text: str, answer: Answer) -> None:
    (tmp_path / "value").write_text(text)
    assert by_file(tmp_path / "value") == answer


@pytest.mark.parametrize("text", ["2\n", "on\n", "01\n", "1 0\n", "0.5\n"])
def test_anything_else_is_no_state(tmp_path: Path, text: str) -> None:
    (tmp_path / "value").write_text(text)
    answer = by_file(tmp_path / "value")
    assert kind_of(answer) is FaultKind.UNREADABLE
    assert "neither '1' nor '0'" in str(answer)


def test_a_file_that_is_not_there_empty_a_folder_or_too_old_says_so(tmp_path: Path) -> None:
    path = tmp_path / "value"
    assert kind_of(by_file(path)) is FaultKind.GONE
    assert kind_of(by_file(tmp_path)) is FaultKind.UNREADABLE
    path.write_text("")
    assert kind_of(by_file(path)) is FaultKind.EMPTY
    path.write_text("1\n")
    assert by_file(path, 60) == Value(1.0, "/")
    for away_s in (-61, 120):
        os.utime(path, (time.time() + away_s, time.time() + away_s))
        assert kind_of(by_file(path, 60)) is FaultKind.STALE
        assert by_file(path) == Value(1.0, "/")


def test_a_character_file_that_says_nothing_is_waited_for_with_an_end(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "line")
    pipe = os.open(tmp_path / "line", os.O_RDWR | os.O_NONBLOCK)
    try:
        assert kind_of(by_file(tmp_path / "line")) is FaultKind.STALE
        os.write(pipe, b"1\n")
        assert by_file(tmp_path / "line") == Value(1.0, "/")
    finally:
        os.close(pipe)


def test_a_command_says_one_of_two_words() -> None:
    assert by_command("/bin/echo", "active") == Value(1.0, "/")
    assert by_command("/bin/echo", "inactive") == Value(0.0, "/")
    assert kind_of(by_command("/bin/echo", "on fire")) is FaultKind.UNREADABLE
    assert kind_of(by_command("/bin/true")) is FaultKind.EMPTY


def test_no_shell_reads_the_words_of_a_command() -> None:
    answer = by_command("/bin/echo", "active; echo inactive", "$(id)", "`id`")
    assert "active; echo inactiv" in str(answer)


def test_a_command_that_fails_is_missing_or_never_ends_says_so() -> None:
    assert "ended with 1" in str(by_command("/bin/false"))
    assert "cannot be run (no such file or directory)" in str(by_command("/no/such/program"))
    began = time.monotonic()
    assert kind_of(by_command("/bin/sleep", "600", timeout_s=0.2)) is FaultKind.STALE
    assert kind_of(by_command("/usr/bin/yes", timeout_s=5)) is FaultKind.UNREADABLE
    assert time.monotonic() - began < 30


def test_what_a_command_has_started_ends_with_it(tmp_path: Path) -> None:
    program = "import os, subprocess; p = subprocess.Popen(['/bin/sleep', '600']); open('pid', 'w').write(str(p.pid))"
    script = tmp_path / "script.py"
    script.write_text(f"import os; os.chdir({str(tmp_path)!r}); {program}; p.wait()")
    written = tmp_path / "pid"
    # The first time that is long enough for it to start something: a busy machine takes longer.
    for timeout_s in (1, 5, 25):
        assert kind_of(by_command(sys.executable, str(script), timeout_s=timeout_s)) is FaultKind.STALE
        if written.exists() and written.read_text():
            break
    pid = int(written.read_text())

    def gone() -> bool:
        try:
            return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
        except FileNotFoundError:
            return True

    wait_until(gone, "the grandchild to end")
