"""What is attached to the board, in words, and as a file for the agent to begin with. Pure."""

import json
import re
from collections.abc import Iterable, Sequence

from sensors.linux.addresses import Address, Attached, Hwmon, Iio, OneWire
from sensors.linux.numbers import unit_of
from sensors.linux.values import PERCENT_RH, Fault

_ON_I2C = re.compile(r"[0-9]+-[0-9a-f]{4}")
_UNITS = {"Cel": "°C", "%RH": "% RH", "/": ""}

_HEAD = """\
# The agent of a board beside the incubator. Try it with: clutchwarden probe --check {file}
# Relative paths begin at the folder of this file.
{sysfs}
[broker]
host = "incubators.example"             # the machine that clutchwarden runs on
# port = 1883                           # with TLS 8883
# tls = true                            # with the broker's ca.pem beside this file:
# ca_file = "ca.pem"
# username = "north"                    # where the broker asks for one; the password stands in a file of its own:
# password_file = "{password}"     # for this user alone: chmod 600

[spool]
# folder = "spool"                      # keeps what the broker does not have yet
# largest_mb = 64
# longest_days = 30

[clock]
source = "synchronised"                 # a time service sets it (chrony, systemd-timesyncd); "own": a battery keeps it

# One [[probe]] for each place that is measured; id and names as in site.toml of clutchwarden.
[[probe]]
id = "north-air"
interval_s = 60
# password_file = "{password}"     # where the broker's user name is this id, as clutchwarden probe enroll makes it
"""
_TAIL = """
# A contact of low voltage, 1 for mains present or door open:
# [[probe.channel]]
# name = "door"
# kind = "file"                         # or "command", with command = ["/usr/bin/gpioget", "-c", "gpiochip0", "17"]
# path = "/sys/class/gpio/gpio17/value"
# one = "1"
# zero = "0"
"""


def told(attached: Sequence[Attached]) -> str:
    """Write what is attached: what, where, its value now or why there is none."""
    if not attached:
        return (
            "No thermometer and no humidity sensor is attached that the system knows.\n"
            "Look at the cable, and whether the bus is switched on (1-wire: a w1-gpio overlay; I2C: the chip's driver)."
        )
    return "\n".join(map(_line, attached))


def as_json(attached: Iterable[Attached]) -> str:
    """Write the same for programs."""
    found = [
        {
            "what": str(each.address),
            "label": each.label,
            "channel": keys(each.address),
            "value": None if isinstance(each.now, Fault) else each.now.value,
            "unit": None if isinstance(each.now, Fault) else each.now.unit,
            "fault": each.now.sentence if isinstance(each.now, Fault) else None,
        }
        for each in attached
    ]
    return json.dumps(found, ensure_ascii=False)


def as_file(attached: Sequence[Attached], file: str, password: str, sysfs: str = "/sys") -> str:
    """Write a file for the agent with a channel for each sensor; those of the board itself are left out of use.

    `sysfs` is where they were found: elsewhere than in /sys, the agent has to look there too.
    """
    found_at = "" if sysfs == "/sys" else f"\nsysfs = {json.dumps(sysfs, ensure_ascii=False)}\n"
    text = _HEAD.format(file=file, password=password, sysfs=found_at)
    used: set[str] = set()
    for each in attached:
        block = _channel(each, used)
        if is_of_the_board(each.address):
            block = "".join(f"# {line}\n" if line else "\n" for line in block.splitlines())
        text += block
    return text + _TAIL


def is_of_the_board(address: Address) -> bool:
    """True for a temperature of the board itself, such as that of its processor."""
    return isinstance(address, Hwmon) and not (_ON_I2C.fullmatch(address.at) or unit_of(address.reading) == PERCENT_RH)


def keys(address: Address) -> dict[str, str]:
    """What a channel of the file says of a sensor that was found."""
    if isinstance(address, OneWire):
        return {"kind": "1-wire", "device": address.device}
    if isinstance(address, Hwmon | Iio):
        kind = "hwmon" if isinstance(address, Hwmon) else "iio"
        return {"kind": kind, "chip": address.chip, "at": address.at, "reading": address.reading}
    return {}


def _line(each: Attached) -> str:
    label = f", {each.label}" if each.label and each.label.isprintable() else ""
    if isinstance(each.now, Fault):
        return f"{each.address}{label}: no value; {each.now.sentence}"
    return f"{each.address}{label}: {each.now.value:.2f} {_UNITS[each.now.unit]}"


def _channel(each: Attached, used: set[str]) -> str:
    humid = not isinstance(each.address, OneWire) and isinstance(each.address, Hwmon | Iio)
    base = "rh" if humid and unit_of(getattr(each.address, "reading", "")) == PERCENT_RH else "t"
    name = next(one for number in range(1, 1_000) if (one := base if number == 1 else f"{base}{number}") not in used)
    used.add(name)
    lines = [f"\n# {_line(each)}", "[[probe.channel]]", f'name = "{name}"']
    # A JSON string without control characters is a TOML one.
    lines += [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in keys(each.address).items() if value]
    return "\n".join(lines) + "\n"
