"""Reads chips that the kernel shows under hwmon and under IIO."""

import re
from collections.abc import Iterator
from pathlib import Path

from sensors.linux.addresses import Hwmon, Iio
from sensors.linux.files import read_or_nothing, read_text
from sensors.linux.numbers import from_milli, from_raw, unit_of
from sensors.linux.values import Answer, Fault, FaultKind

_HWMON, _IIO = "class/hwmon", "bus/iio/devices"
_HWMON_INPUT = re.compile(r"((?:temp|humidity)[1-9][0-9]*)_input")
_IIO_INPUT = re.compile(r"in_((?:temp|humidityrelative)[0-9]*)_(?:input|raw)")


def read_hwmon(address: Hwmon, sysfs: Path) -> Answer:
    """Read one input of a chip under hwmon. Never raises."""
    folder = _folder(sysfs / _HWMON, address.chip, address.at)
    if isinstance(folder, Fault):
        return folder
    if read_or_nothing(folder / f"{address.reading}_enable") == "0":
        return Fault(FaultKind.SWITCHED_OFF, "this input of the chip is switched off")
    # The flag after the value: one that comes up between the two must not be missed.
    text = read_text(folder / f"{address.reading}_input")
    if read_or_nothing(folder / f"{address.reading}_fault") not in ("", "0"):
        return Fault(FaultKind.FLAGGED, "the chip says that its sensor has a fault: look at the sensor and its cable")
    return text if isinstance(text, Fault) else from_milli(text, unit_of(address.reading))


def read_iio(address: Iio, sysfs: Path) -> Answer:
    """Read one input of a chip under IIO. Never raises."""
    folder = _folder(sysfs / _IIO, address.chip, address.at)
    if isinstance(folder, Fault):
        return folder
    unit, stem = unit_of(address.reading), f"in_{address.reading}"
    if (folder / f"{stem}_input").exists():
        text = read_text(folder / f"{stem}_input")
        return text if isinstance(text, Fault) else from_milli(text, unit)
    raw, scale = read_text(folder / f"{stem}_raw"), read_text(folder / f"{stem}_scale")
    offset = read_text(folder / f"{stem}_offset")
    if isinstance(raw, Fault):
        return raw
    if isinstance(scale, Fault):
        return scale
    if isinstance(offset, Fault):
        if offset.kind is not FaultKind.GONE:
            return offset
        offset = ""
    return from_raw(raw, offset, scale, unit)


def find_hwmon(sysfs: Path) -> Iterator[tuple[Hwmon, str]]:
    """Give the inputs for temperature and humidity under hwmon, each with the label that the chip has for it."""
    for folder in _folders(sysfs / _HWMON):
        for name in sorted(each.name for each in folder.iterdir()):
            if found := _HWMON_INPUT.fullmatch(name):
                label = read_or_nothing(folder / f"{found[1]}_label")
                yield Hwmon(read_or_nothing(folder / "name"), _sits_on(folder), found[1]), label


def find_iio(sysfs: Path) -> Iterator[tuple[Iio, str]]:
    """Give the inputs for temperature and humidity under IIO, each with its label."""
    for folder in _folders(sysfs / _IIO):
        readings = {found[1] for each in folder.iterdir() if (found := _IIO_INPUT.fullmatch(each.name))}
        for reading in sorted(readings):
            label = read_or_nothing(folder / f"in_{reading}_label") or read_or_nothing(folder / "label")
            yield Iio(read_or_nothing(folder / "name"), _sits_on(folder), reading), label


def _folder(root: Path, chip: str, at: str) -> Path | Fault:
    """Find a chip by its name, and by the device that it sits on where one is stated."""
    named = [each for each in _folders(root) if read_or_nothing(each / "name") == chip]
    found = [each for each in named if not at or _sits_on(each) == at]
    if len(found) == 1:
        return found[0]
    if found:
        return Fault(FaultKind.UNREADABLE, f"{len(found)} chips are called {chip}; state at = as --list shows it")
    elsewhere = f"; there is one at {_sits_on(named[0])}" if named else ""
    return Fault(FaultKind.GONE, f"there is no such chip: it is unplugged, or its driver is not loaded{elsewhere}")


def _folders(root: Path) -> list[Path]:
    """The devices of a class; the kernel has each as a link, and numbers them by order of arrival."""
    if not root.is_dir():
        return []
    return sorted(each for each in root.iterdir() if (each / "name").is_file())


def _sits_on(folder: Path) -> str:
    """The name of the device that a chip belongs to; it stays over restarts. Empty for a chip without one."""
    device = folder / "device"
    if device.exists():
        return device.resolve().name
    return folder.resolve().parent.name if folder.name.startswith("iio:") else ""
