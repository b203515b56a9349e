"""Reads contacts: a mains or a door contact that a file shows (sysfs, a character file), or that a command tells.

Anything that is neither of the two stated words is no state. A command runs without a shell, with an end in any case.
"""

import contextlib
import errno
import os
import select
import signal
import subprocess
import time
from collections.abc import Sequence
from pathlib import Path

from sensors.linux.addresses import ContactCommand, ContactFile
from sensors.linux.files import LARGEST_BYTES, fault_of, read_text
from sensors.linux.values import SWITCH, Answer, Fault, FaultKind, Value


def read_file(address: ContactFile) -> Answer:
    """Read the state of a contact from a file. Never raises."""
    path = Path(address.path)
    text = read_text(path)
    if isinstance(text, Fault):
        return text
    if address.max_age_s:
        try:
            age_s = time.time() - path.stat().st_mtime
        except OSError as error:
            return fault_of(error)
        if abs(age_s) > address.max_age_s:
            sentence = (
                f"the file was written {age_s:.0f} s ago, and may be {address.max_age_s:g} s old: what writes it?"
            )
            return Fault(FaultKind.STALE, sentence)
    return _state(text, address.one, address.zero)


def read_command(address: ContactCommand) -> Answer:
    """Ask a command for the state of a contact. Never raises."""
    name = address.command[0]
    try:
        said, code = said_by(address.command, address.timeout_s)
    except TimeoutError:
        return Fault(FaultKind.STALE, f"the command {name} did not end within {address.timeout_s:g} s")
    except OSError as error:
        why = (error.strerror or type(error).__name__).lower()
        return Fault(FaultKind.UNREADABLE, f"the command {name} cannot be run ({why})")
    if code != 0:
        return Fault(FaultKind.UNREADABLE, f"the command {name} ended with {code}")
    return _state(said.decode("utf-8", "replace"), address.one, address.zero)


def said_by(command: Sequence[str], timeout_s: float) -> tuple[bytes, int]:
    """Run a command to its end; gives the first of its output and its exit code.

    It and all that it starts are ended after `timeout_s` seconds; what it writes beyond a page is not read. Raises
    TimeoutError, and OSError where it cannot be run.
    """
    deadline_s = time.monotonic() + timeout_s
    with subprocess.Popen(  # noqa: S603 - the words are the keeper's own, and no shell reads them
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True
    ) as running:
        try:
            said = _output(running, deadline_s)
            return said, running.wait(max(0.0, deadline_s - time.monotonic()))
        except (TimeoutError, subprocess.TimeoutExpired):
            raise TimeoutError from None
        finally:
            with contextlib.suppress(OSError):  # nothing is left of it
                os.killpg(running.pid, signal.SIGKILL)


def _output(running: "subprocess.Popen[bytes]", deadline_s: float) -> bytes:
    stream = running.stdout
    said = b""
    while stream is not None and len(said) < LARGEST_BYTES:
        if not select.select([stream], [], [], max(0.0, deadline_s - time.monotonic()))[0]:
            raise TimeoutError
        more = os.read(stream.fileno(), LARGEST_BYTES - len(said))
        if not more:
            return said
        said += more
    raise OSError(errno.EFBIG, "it writes without end")


def _state(text: str, one: str, zero: str) -> Answer:
    said = text.strip()
    if said == one:
        return Value(1.0, SWITCH)
    if said == zero:
        return Value(0.0, SWITCH)
    if not said:
        return Fault(FaultKind.EMPTY, "it says nothing")
    shown = repr(said if len(said) <= 20 else said[:20] + "…")  # noqa: PLR2004 - so much shows what it is
    return Fault(FaultKind.UNREADABLE, f"it says {shown}, which is neither {one!r} nor {zero!r}")
