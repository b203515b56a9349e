"""Under which tags a reading is in the mirror already, where its probe or its site had others then. Pure.

The place is a tag: written under a new one a reading would be there a second time. So what is written once more goes
where it was. When a probe was moved is in no journal; the mirror shows it by the times that each series has.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple


class FormerSeries(NamedTuple):
    """A series of one channel as it is in the mirror: its tags, and the first and last time that it has, UTC ms."""

    tags: Mapping[str, str]
    first_ms: int
    last_ms: int


Former = Mapping[str, Sequence[FormerSeries]]
"""For each channel the series that it has had."""


def series_at(former: Sequence[FormerSeries], now: Mapping[str, str], at_ms: int) -> Mapping[str, str]:
    """Give the tags for a reading of a moment; `now` are those of today.

    A series of other tags that spans the moment is the one that was written then; of several the shortest. A probe that
    was moved and came back has its old series around the other one.
    """
    spanning = [each for each in former if each.tags != now and each.first_ms <= at_ms <= each.last_ms]
    if not spanning:
        return now
    return min(spanning, key=lambda each: each.last_ms - each.first_ms).tags
