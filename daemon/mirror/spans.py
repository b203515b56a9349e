"""Days of UTC, as the two sides are compared. Pure."""

from collections.abc import Iterator, Mapping

from daemon.chain_rules import DAY_MS

Span = tuple[int, int]
"""First and last moment of measuring, both included, UTC ms."""


def joined(one: Mapping[str, Span], other: Mapping[str, Span]) -> dict[str, Span]:
    """Give for each channel of either side the span that holds both."""
    found = dict(one)
    for channel, (first, last) in other.items():
        before = found.get(channel, (first, last))
        found[channel] = min(before[0], first), max(before[1], last)
    return found


def days(span: Span, since_ms: int = 0) -> Iterator[Span]:
    """Give the start and end (not included) of each day of a span, from the day of `since_ms` on."""
    first = max(span[0], since_ms) // DAY_MS
    for day in range(first, span[1] // DAY_MS + 1):
        yield day * DAY_MS, (day + 1) * DAY_MS
