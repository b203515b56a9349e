"""Where a channel's value is to be had. Pure.

The numbers in `hwmon3` and `iio:device0` depend on the order in which the kernel met the devices, so a chip is found by
its name and by the device that it sits on (`1-0044` is address 44 hex of I2C bus 1), both of which stay.
"""

from typing import NamedTuple

from sensors.linux.values import Answer


class OneWire(NamedTuple):
    """A thermometer on a 1-wire bus: family and number, as in `28-0316a2795bff`."""

    device: str

    def __str__(self) -> str:
        return f"1-wire thermometer {self.device}"


class Hwmon(NamedTuple):
    """An input of a chip that the kernel shows under hwmon; `reading` is `temp1`, `humidity1` or another number."""

    chip: str
    at: str
    reading: str

    def __str__(self) -> str:
        return f"{self.reading} of {self.chip}{_at(self.at)} (hwmon)"


class Iio(NamedTuple):
    """An input of a chip that the kernel shows under IIO; `reading` is `temp`, `humidityrelative` or `temp2`."""

    chip: str
    at: str
    reading: str

    def __str__(self) -> str:
        return f"{self.reading} of {self.chip}{_at(self.at)} (IIO)"


class ContactFile(NamedTuple):
    """A contact that a file shows: `one` and `zero` are what the file says for 1 and for 0.

    `max_age_s`: where another program writes the file, how old it may be, seconds; 0 for a file of the kernel.
    """

    path: str
    one: str
    zero: str
    max_age_s: float

    def __str__(self) -> str:
        return f"contact in {self.path}"


class ContactCommand(NamedTuple):
    """A contact that a command tells: the words of the command, and what it writes for 1 and for 0."""

    command: tuple[str, ...]
    one: str
    zero: str
    timeout_s: float

    def __str__(self) -> str:
        return f"contact by {self.command[0]}"


Address = OneWire | Hwmon | Iio | ContactFile | ContactCommand


class Attached(NamedTuple):
    """A sensor that was found, the label that its chip has for it, and what it says now."""

    address: Address
    label: str
    now: Answer


def _at(at: str) -> str:
    return f" at {at}" if at else ""
