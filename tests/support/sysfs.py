"""A tree of files as the kernel's documentation describes it, with devices that a test may plug, break and unplug.

Sources: w1_therm, hwmon sysfs interface and IIO ABI of the Linux kernel documentation. Devices are real folders below
`devices/`, and classes hold links to them, as in a kernel.
"""

import os
from collections.abc import Mapping
from pathlib import Path

FRAME_25_C = "91 01 4b 46 7f ff 0c 10 70"
"""25.0625 degree Celsius with its checksum; a published example of the data sheet's layout."""


def w1_slave(frame: str, milli_c: int, *, answer: str = "YES") -> str:
    """The two lines of `w1_slave`."""
    return f"{frame} : crc={frame[-2:]} {answer}\n{frame} t={milli_c}\n"


class Sysfs:
    """A tree below `root`, which stands for `/sys`."""

    def __init__(self, root: Path) -> None:
        self.root = root
        root.mkdir(parents=True, exist_ok=True)

    def one_wire(self, device: str, files: Mapping[str, str]) -> Path:
        """A thermometer on the first 1-wire bus; the bus master is there too."""
        self._write(self.root / "devices/w1_bus_master1", {"therm_bulk_read": "0\n"})
        self._link(self.root / "bus/w1/devices/w1_bus_master1", self.root / "devices/w1_bus_master1")
        folder = self._write(self.root / "devices/w1_bus_master1" / device, {"name": device + "\n", **files})
        self._link(self.root / "bus/w1/devices" / device, folder)
        return folder

    def hwmon(self, number: int, chip: str, files: Mapping[str, str], at: str = "") -> Path:
        """A chip under hwmon, on an I2C bus where `at` names an address there."""
        device = self.root / "devices" / (f"i2c-1/{at}" if at else "virtual")
        folder = self._write(device / "hwmon" / f"hwmon{number}", {"name": chip + "\n", **files})
        if at:
            self._link(folder / "device", device)
        self._link(self.root / f"class/hwmon/hwmon{number}", folder)
        return folder

    def iio(self, number: int, chip: str, files: Mapping[str, str], at: str) -> Path:
        """A chip under IIO on an I2C bus."""
        folder = self._write(self.root / "devices/i2c-1" / at / f"iio:device{number}", {"name": chip + "\n", **files})
        self._link(self.root / f"bus/iio/devices/iio:device{number}", folder)
        return folder

    @staticmethod
    def _write(folder: Path, files: Mapping[str, str]) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            # Beside it first: an agent that reads at this moment finds the old content or the new, never an empty file.
            beside = folder / f".{name}.new"
            beside.write_text(content, encoding="ascii")
            beside.replace(folder / name)
        return folder

    @staticmethod
    def _link(link: Path, target: Path) -> None:
        link.parent.mkdir(parents=True, exist_ok=True)
        if not link.is_symlink():
            link.symlink_to(os.path.relpath(target, link.parent), target_is_directory=True)
