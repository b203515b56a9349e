"""What the two files of a 1-wire thermometer say. Pure.

Kernel documentation of w1_therm: `w1_slave` has two lines, the first with nine bytes, the checksum and YES or NO, the
second with the bytes again and `t=` in thousandths of a degree. After a failed checksum the file is empty; older
kernels say NO, and then `t=` comes from the bad bytes. `temperature` has the number alone, without any checksum.

Of the values: exactly 85 stands in the register before the first measurement and 127.94 means too little power (data
sheet of the DS18B20, kernel documentation). The checksum of eight zero bytes is zero, so that a data line at zero
passes. No thermometer of the family measures below -55 or above 125 degree Celsius; -127 is what common programs for
microcontrollers say for a missing one.
"""

import re

from sensors.linux.values import CELSIUS, Answer, Fault, FaultKind, Value

FAMILIES = ("10", "22", "28", "3b", "42")
"""DS18S20, DS1822, DS18B20, DS1825, DS28EA00: what the kernel's driver knows."""

_LOWEST_MC, _HIGHEST_MC = -55_000, 125_000
_POWER_ON_MC = 85_000
_LOW_POWER_MC = (127_937, 127_938, 127_940)
_NO_CONVERSION = 0x0C
_FIRST_LINE = re.compile(r"((?:[0-9a-f]{2} ){9}): crc=[0-9a-f]{2} (YES|NO)\s*", re.IGNORECASE)
_TEMPERATURE = re.compile(r"\bt=(-?[0-9]{1,7})\s*$")
_WHOLE = re.compile(r"-?[0-9]{1,7}")
_BAD_FRAME = "the checksum is wrong: a bad contact, a long or a forked cable, or interference"


def crc8(data: bytes) -> int:
    """The checksum of a 1-wire device: x^8 + x^5 + x^4 + 1, bits reflected, from zero."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0x8C if crc & 1 else crc >> 1
    return crc


def parse_w1_slave(text: str) -> Answer:
    """Read the two lines of `w1_slave`; degree Celsius, or why there is none."""
    if not text.strip():
        return _empty()
    lines = text.splitlines()
    first = _FIRST_LINE.fullmatch(lines[0])
    if first is None:
        return Fault(FaultKind.UNREADABLE, "the thermometer's file is not laid out as the kernel describes it")
    frame = bytes.fromhex(first[1])
    if first[2].upper() != "YES" or crc8(frame[:8]) != frame[8]:
        return Fault(FaultKind.CHECKSUM, _BAD_FRAME)
    if not any(frame):
        return _stuck_low("nine zero bytes, whose checksum is right")
    found = _TEMPERATURE.search(lines[1]) if len(lines) > 1 else None
    if found is None:
        return Fault(FaultKind.UNREADABLE, "the thermometer's file has no t= in its second line")
    return _judged(int(found[1]), converted=frame[6] != _NO_CONVERSION)


def parse_temperature(text: str) -> Answer:
    """Read the file `temperature`; degree Celsius, or why there is none.

    No checksum is shown, so exactly 0 cannot be told from a data line at zero, and is no reading.
    """
    if not text.strip():
        return _empty()
    if _WHOLE.fullmatch(text.strip()) is None:
        return Fault(FaultKind.UNREADABLE, "the thermometer's file holds no whole number")
    milli_c = int(text)
    return _stuck_low("exactly 0, and no checksum shown") if milli_c == 0 else _judged(milli_c, converted=True)


def _judged(milli_c: int, *, converted: bool) -> Answer:
    if milli_c == _POWER_ON_MC:
        seen = "it has not measured" if not converted else "no incubator is so hot"
        sentence = f"exactly 85 °C is what stands there after a loss of power ({seen}): look at its supply and contacts"
        return Fault(FaultKind.POWER_ON, sentence)
    if milli_c in _LOW_POWER_MC:
        sentence = "127.94 °C is what it says with too little power: connect its supply pin, or shorten the cable"
        return Fault(FaultKind.LOW_POWER, sentence)
    if not _LOWEST_MC <= milli_c <= _HIGHEST_MC:
        sentence = f"{milli_c / 1000:g} °C lies outside what it can measure (-55 to 125): it is missing or broken"
        return Fault(FaultKind.OUT_OF_RANGE, sentence)
    return Value(milli_c / 1000, CELSIUS)


def _empty() -> Fault:
    return Fault(FaultKind.EMPTY, f"the kernel gave up reading it; {_BAD_FRAME}")


def _stuck_low(seen: str) -> Fault:
    return Fault(FaultKind.STUCK_LOW, f"{seen}: the data line may lie at zero; look for a short circuit")
