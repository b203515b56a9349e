"""Pure: what the journal shows around the facts of an incident, for whoever names its cause."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from config.words import Quantity
from daemon.review.gaps import Gap, overlaps
from daemon.review.joining import incubator
from daemon.review.values import Fact, FactKind, Span


class Source(NamedTuple):
    """A channel of the site, and where its probe is."""

    channel: str
    probe: str
    place: str
    quantity: Quantity


class Remark(NamedTuple):
    """Something else that held in a span: a door that stood open, a journal that could not be written."""

    span: Span
    place: str
    words: str


@dataclass(frozen=True, slots=True)
class Around:
    """`sources` are the channels that were ever heard, `gaps` all their gaps in the time that was looked at."""

    sources: tuple[Source, ...] = ()
    gaps: tuple[Gap, ...] = ()
    remarks: tuple[Remark, ...] = field(default=())

    def heard_during(self, span: Span) -> list[Source]:
        """Give the channels that measure something and were heard at some moment in the span."""
        silent = {gap.channel for gap in self.gaps if _covers(gap.span, span)}
        return [each for each in self.measuring() if each.channel not in silent]

    def measuring(self) -> Iterator[Source]:
        """Give the channels that are no contacts."""
        return (each for each in self.sources if not each.quantity.is_contact)

    def mains_of(self, places: Iterable[str]) -> list[Source]:
        """Give the contacts of the mains that speak for these places; those of the room speak for all."""
        wanted = {incubator(place) for place in places} | {""}
        return [each for each in self.sources if each.quantity is Quantity.MAINS and incubator(each.place) in wanted]

    def spoke_all_along(self, channel: str, span: Span) -> bool:
        """Tell whether a channel had no gap in the span."""
        return not any(gap.channel == channel and overlaps(gap.span, span) for gap in self.gaps)

    def gaps_of(self, facts: Iterable[Fact]) -> list[Gap]:
        """Give the gaps that these facts are about, as far as they are known here."""
        wanted = {(fact.subject, fact.span.from_ms) for fact in facts if fact.kind is FactKind.PROBE_GAP}
        return [gap for gap in self.gaps if (gap.channel, gap.span.from_ms) in wanted]


def _covers(outer: Span, inner: Span) -> bool:
    begins = outer.from_ms <= inner.from_ms
    return begins and (outer.to_ms is None or (inner.to_ms is not None and inner.to_ms <= outer.to_ms))
