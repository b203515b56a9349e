"""Small files of the kernel, read within bounds; what the system says against it becomes a fault in words."""

import errno
import os
import select
from pathlib import Path

from sensors.linux.values import Fault, FaultKind

LARGEST_BYTES = 4096
"""No file of sysfs is larger than a page."""
_WAIT_S = 2.0

_SAID = {
    errno.ENOENT: (FaultKind.GONE, "there is no such device: it is unplugged, or its driver is not loaded"),
    errno.ENODEV: (FaultKind.GONE, "the device does not answer any more: look at its cable"),
    errno.ENXIO: (FaultKind.GONE, "the device does not answer any more: look at its cable"),
    errno.EREMOTEIO: (FaultKind.GONE, "the device does not answer on its bus: look at its cable"),
    errno.ENODATA: (FaultKind.SWITCHED_OFF, "this input of the chip is switched off"),
    errno.EACCES: (FaultKind.UNREADABLE, "this user may not read it; let the agent run as one who may"),
    errno.EPERM: (FaultKind.UNREADABLE, "this user may not read it; let the agent run as one who may"),
    errno.EISDIR: (FaultKind.UNREADABLE, "this is a folder, not a file"),
    errno.ETIMEDOUT: (FaultKind.UNREADABLE, "the device did not answer in time: look at its cable"),
}


def read_text(path: Path) -> str | Fault:
    """Read a file; a character file that says nothing within two seconds is a fault. Never raises."""
    try:
        opened = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        return fault_of(error)
    try:
        return _read(opened)
    except OSError as error:
        return fault_of(error)
    finally:
        os.close(opened)


def read_or_nothing(path: Path) -> str:
    """Read a file that need not be there; empty where it is not."""
    text = read_text(path)
    return "" if isinstance(text, Fault) else text.strip()


def fault_of(error: OSError) -> Fault:
    """Put an error of the system into words."""
    kind, sentence = _SAID.get(error.errno or 0, (FaultKind.UNREADABLE, ""))
    return Fault(kind, sentence or f"it cannot be read ({(error.strerror or type(error).__name__).lower()})")


def _read(opened: int) -> str | Fault:
    try:
        data = os.read(opened, LARGEST_BYTES)
    except BlockingIOError:
        # A character file that has nothing to say yet.
        if not select.select([opened], [], [], _WAIT_S)[0]:
            return Fault(FaultKind.STALE, f"it said nothing for {_WAIT_S:g} s")
        data = os.read(opened, LARGEST_BYTES)
    return data.decode("utf-8", "replace")
