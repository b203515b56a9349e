"""Under which tags a reading is in the mirror already, where its probe or its site had others then. Pure.

The place is a tag: written under a new one a reading would be there a second time. So what is written once more goes
where it was. When a probe was moved is in no journal; the mirror shows it by the times that each series has.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple


class FormerSeries(NamedTuple):
    """A series of one channel as it is in the mirror: its tags, and the first and last time that it has, UTC ms.

    `beginning`: that of its lines, once somebody has written it out.
    """

    tags: Mapping[str, str]
    first_ms: int
    last_ms: int
    beginning: str = ""


Former = Mapping[str, Sequence[FormerSeries]]
"""For each channel the series that it has had."""


def others(former: Sequence[FormerSeries], now: Mapping[str, str]) -> list[FormerSeries]:
    """Give the series that have other tags than those of today, the shortest first."""
    return sorted((each for each in former if each.tags != now), key=lambda each: each.last_ms - each.first_ms)


def series_at(elsewhere: Sequence[FormerSeries], at_ms: int) -> FormerSeries | None:
    """Give the series for a reading of a moment, out of `others`; None where it is that of today.

    One that spans the moment is the one that was written then; of several the shortest. A probe that was moved and came
    back has its old series around the other one.
    """
    for each in elsewhere:
        if each.first_ms <= at_ms <= each.last_ms:
            return each
    return None
