"""A course of temperature from the stretches in which a channel was read. Pure."""

from daemon.placement.outside import Course
from daemon.series_columns import Columns


def course_of(columns: Columns) -> Course:
    """Put the mean of each stretch in the middle of its readings, and join those that follow each other without a gap.

    A stretch with a gap inside is joined to nothing: its mean says little of any moment.
    """
    at_ms: list[float] = []
    value_c: list[float] = []
    joined: list[bool] = []
    was_broken = True
    rows = zip(columns.mean, columns.first_ms, columns.last_ms, columns.gap_before, columns.gap_inside, strict=True)
    for mean, first_ms, last_ms, gap_before, gap_inside in rows:
        if mean is None or first_ms is None or last_ms is None:
            continue
        at_ms.append((first_ms + last_ms) / 2)
        value_c.append(mean)
        joined.append(not (was_broken or gap_before or gap_inside))
        was_broken = gap_inside
    least = [each for each in columns.least if each is not None]
    most = [each for each in columns.most if each is not None]
    return Course(at_ms, value_c, joined, min(least, default=None), max(most, default=None))
