"""Reads a channel wherever it is, and finds all that is attached."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

from sensors.linux import chips, contact, one_wire
from sensors.linux.addresses import Address, Attached, ContactCommand, ContactFile, Hwmon, OneWire
from sensors.linux.files import fault_of
from sensors.linux.values import Answer, Fault, FaultKind

LONGEST_READ_MS = 10_000
"""A kernel may try a thermometer five times, about a second each; what takes longer was measured nobody knows when."""

_SHOWN_ELSEWHERE = frozenset({"w1_slave_temp", "iio_hwmon"})
"""Names under which the kernel shows 1-wire thermometers and IIO chips a second time, without their checks."""


def read(address: Address, sysfs: Path) -> Answer:
    """Read one channel now. Never raises."""
    try:
        return _read(address, sysfs)
    except OSError as error:
        # A device that went while its folder was looked through.
        return fault_of(error)


def _read(address: Address, sysfs: Path) -> Answer:
    if isinstance(address, OneWire):
        return one_wire.read(address, sysfs)
    if isinstance(address, Hwmon):
        return chips.read_hwmon(address, sysfs)
    if isinstance(address, ContactFile):
        return contact.read_file(address)
    if isinstance(address, ContactCommand):
        return contact.read_command(address)
    return chips.read_iio(address, sysfs)


def _real_ms() -> int:
    return time.monotonic_ns() // 1_000_000


def read_in_time(address: Address, sysfs: Path, steady_ms: Callable[[], int] = _real_ms) -> Answer:
    """Read one channel; a value that was too long in coming is none."""
    began_ms = steady_ms()
    answer = read(address, sysfs)
    took_ms = steady_ms() - began_ms
    if took_ms > LONGEST_READ_MS and not isinstance(answer, Fault):
        return Fault(FaultKind.STALE, f"it took {took_ms / 1000:.0f} s to answer; when it was measured nobody knows")
    return answer


def find(sysfs: Path) -> Iterator[Attached]:
    """Give every thermometer and humidity sensor that the kernel sees, and read each."""
    seen: list[tuple[Address, str]] = [(each, "") for each in one_wire.find(sysfs)]
    seen += ((each, label) for each, label in chips.find_hwmon(sysfs) if each.chip not in _SHOWN_ELSEWHERE)
    seen += chips.find_iio(sysfs)
    for address, label in seen:
        yield Attached(address, label, read(address, sysfs))
