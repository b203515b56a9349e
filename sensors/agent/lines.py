"""One line of the spool: what was measured at one moment, with a checksum. Pure.

`<crc32> <number> <boot> <steady> <moment or -> <values>` and a line feed: plain text, so that a reader finds the next
whole line after a damaged one. The values are JSON without any line feed in it.
"""

import json
import re
import zlib
from collections.abc import Mapping
from typing import NamedTuple

LONGEST_BYTES = 65_536
_LINE = re.compile(rb"([0-9a-f]{8}) (([0-9]{1,18}) ([0-9a-z]{1,32}) ([0-9]{1,18}) (-|[0-9]{1,18}) (\{[^\n]*\}))\n")


class Line(NamedTuple):
    """What was measured at one moment.

    `number` counts the lines of a spool from 1 on. `steady_ms` is the time since the board started, of the start called
    `boot`; `moment_ms` the same as UTC milliseconds since the epoch, None where the clock was not right at the time.
    `values` is value and SenML unit by channel, as JSON.
    """

    number: int
    boot: str
    steady_ms: int
    moment_ms: int | None
    values: str


def values_text(values: Mapping[str, tuple[float, str]]) -> str:
    """Write values as a line has them. Raises ValueError for one that is not finite."""
    return json.dumps(values, separators=(",", ":"), allow_nan=False)


def read_values(text: str) -> dict[str, tuple[float, str]]:
    """Read back what `values_text` wrote."""
    return {name: (value, unit) for name, (value, unit) in json.loads(text).items()}


def encode(line: Line) -> bytes:
    """Write a line with its checksum."""
    moment = "-" if line.moment_ms is None else str(line.moment_ms)
    body = f"{line.number} {line.boot} {line.steady_ms} {moment} {line.values}".encode()
    return b"%08x %s\n" % (zlib.crc32(body), body)


def decode(raw: bytes) -> Line | None:
    """Read a line; None for one that is torn or damaged."""
    found = _LINE.fullmatch(raw)
    if found is None or int(found[1], 16) != zlib.crc32(found[2]):
        return None
    moment_ms = None if found[6] == b"-" else int(found[6])
    return Line(int(found[3]), found[4].decode(), int(found[5]), moment_ms, found[7].decode())
