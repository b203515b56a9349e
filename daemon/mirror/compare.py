"""Two sides of one channel and day, or of the alarm events of one day, held against each other. Pure.

What is compared of a reading are its number, both times, its value to the last bit, and its quality. The digest of a
side is SHA-256 over these, 40 bytes each, in the order of time (`chain_rules.packed`).
"""

import hashlib
import struct
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from typing import NamedTuple

from daemon.chain_rules import BLOCK, packed

Reading = tuple[int, int, int, float, int]
"""seq, measured at, received at (UTC ms), value, quality"""


class Difference(NamedTuple):
    """How a mirror differs: numbers of the journal's rows that it has not, or not like that, and what it has beside."""

    missing: tuple[int, ...] = ()
    different: tuple[int, ...] = ()
    extra: int = 0
    parked: int = 0

    @property
    def to_mend(self) -> tuple[int, ...]:
        """What has to be written once more."""
        return (*self.missing, *self.different)


def digest(rows: Sequence[Reading]) -> str:
    """Give the digest of readings, which have to be in the order of time."""
    hashed = hashlib.sha256()
    for first in range(0, len(rows), BLOCK):
        hashed.update(packed(rows[first : first + BLOCK]))
    return hashed.hexdigest()


def readings_differ(journal: Sequence[Reading], mirror: Sequence[Reading], parked: AbstractSet[int]) -> Difference:
    """Compare the readings of one channel and stretch of time; `parked` are known to be refused."""
    if len(journal) == len(mirror) and digest(journal) == digest(mirror):
        return Difference()
    there: dict[int, set[bytes]] = {}
    for row in mirror:
        there.setdefault(row[1], set()).add(_bits(row))
    missing, different, known_parked = list[int](), list[int](), 0
    for row in journal:
        found = there.pop(row[1], None)
        if found == {_bits(row)}:
            continue
        if row[0] in parked:
            known_parked += 1
        elif found is None:
            missing.append(row[0])
        else:
            different.append(row[0])
    return Difference(tuple(missing), tuple(different), len(there), known_parked)


def events_differ(journal: Mapping[int, object], mirror: Mapping[int, object], parked: AbstractSet[int]) -> Difference:
    """Compare alarm events by number."""
    missing = tuple(number for number in journal if number not in mirror and number not in parked)
    different = tuple(number for number in journal if number in mirror and journal[number] != mirror[number])
    known_parked = sum(number not in mirror and number in parked for number in journal)
    return Difference(missing, different, len(mirror.keys() - journal.keys()), known_parked)


def _bits(row: Reading) -> bytes:
    return struct.pack("<qqqdq", *row)
