"""Reads thermometers on a 1-wire bus: `/sys/bus/w1/devices/<family>-<id>/w1_slave`, or `temperature` without it.

A read starts a measurement and takes up to 750 ms. Only where somebody has told the bus to measure all thermometers at
once, the first read gives what was measured then, of unknown age: it is thrown away.
"""

from collections.abc import Iterator
from pathlib import Path

from sensors.linux.addresses import OneWire
from sensors.linux.files import read_or_nothing, read_text
from sensors.linux.one_wire_text import FAMILIES, parse_temperature, parse_w1_slave
from sensors.linux.values import Answer, Fault, FaultKind

_BUS = "bus/w1/devices"
_WAITING, _RUNNING = "1", "-1"


def read(address: OneWire, sysfs: Path) -> Answer:
    """Measure now; degree Celsius, or why not. Never raises."""
    folder = sysfs / _BUS / address.device
    bulk = _bulk_state(sysfs)
    if bulk == _RUNNING:
        return Fault(FaultKind.STALE, "another program has all thermometers of the bus measure just now")
    path, parse = folder / "w1_slave", parse_w1_slave
    if not path.exists():
        path, parse = folder / "temperature", parse_temperature
    if bulk == _WAITING:
        read_text(path)
    text = read_text(path)
    return text if isinstance(text, Fault) else parse(text)


def find(sysfs: Path) -> Iterator[OneWire]:
    """Give the thermometers that the kernel sees."""
    folder = sysfs / _BUS
    if folder.is_dir():
        for device in sorted(each.name for each in folder.iterdir()):
            if device.partition("-")[0].lower() in FAMILIES and "-" in device:
                yield OneWire(device)


def _bulk_state(sysfs: Path) -> str:
    states = {read_or_nothing(each / "therm_bulk_read") for each in (sysfs / _BUS).glob("w1_bus_master*")}
    return _RUNNING if _RUNNING in states else _WAITING if _WAITING in states else "0"
