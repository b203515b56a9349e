"""Reads from the journal when channels and the whole site were silent, and when the mains was gone."""

import sqlite3
from collections.abc import Iterator
from typing import NamedTuple

from config.model import ROOM, Probe, Site
from config.places import Places
from config.words import Quantity
from daemon.alarms.lateness import late_after_ms
from daemon.alarms.silence import window_ms
from daemon.review.around import Source
from daemon.review.fact_words import FactWords
from daemon.review.gaps import Gap, Late, is_certain, site_gaps
from daemon.review.values import Fact, FactKind, Span
from daemon.storage import heard_times

SITE = "site"
_ABSENT = 0.0


class _Channel(NamedTuple):
    source: Source
    probe: Probe


class Asked(NamedTuple):
    """The span that is asked for, the present moment, and since when anything can have been heard."""

    span: Span
    now_ms: int
    not_before_ms: int

    @property
    def end_ms(self) -> int:
        """The end of the span."""
        return self.span.until(self.now_ms)


class GapFacts:
    """The gaps of one site."""

    def __init__(self, site: Site, words: FactWords) -> None:
        self._places, self._words = Places(site), words
        self._channels = [
            _Channel(Source(f"{probe.id}/{channel.name}", probe.id, probe.place, channel.quantity), probe)
            for probe in site.probes
            for channel in probe.channels
        ]
        self.sources = tuple(each.source for each in self._channels)

    def gaps(self, conn: sqlite3.Connection, asked: Asked) -> tuple[list[Gap], list[Source]]:
        """Give every gap with a moment in the span, whole, and the channels that were ever heard."""
        gaps: list[Gap] = []
        heard: list[Source] = []
        for channel in self._channels:
            number = heard_times.number_of(conn, channel.source.channel)
            spans = None if number is None else self._spans(conn, number, channel.probe.interval_s, asked)
            if number is not None and spans is not None:
                heard.append(channel.source)
                gaps += (self._gap(conn, number, channel, span, asked.now_ms) for span in spans)
        return gaps, heard

    def facts(self, gaps: list[Gap], heard: list[Source], asked: Asked) -> Iterator[Fact]:
        """Give the facts that gaps come to."""
        for gap in gaps:
            name, late = self.name(gap.place), gap.late
            came_ms = None if late is None else late.came_ms
            said = self._words.probe_gap(gap.channel, name, gap.span, came_ms, late is not None and late.whole)
            yield Fact(FactKind.PROBE_GAP, gap.span, gap.place, gap.channel, said)
        measuring = [each for each in heard if not each.quantity.is_contact]
        by_probe = {
            probe: [
                [gap.span for gap in gaps if gap.channel == each.channel] for each in measuring if each.probe == probe
            ]
            for probe in dict.fromkeys(each.probe for each in measuring)
        }
        for span in site_gaps(by_probe, asked.now_ms):
            if span.from_ms <= asked.end_ms and span.until(asked.now_ms) >= asked.span.from_ms:
                yield Fact(FactKind.SITE_GAP, span, "", SITE, self._words.site_gap(len(by_probe), span))

    def mains(self, conn: sqlite3.Connection, asked: Asked) -> Iterator[Fact]:
        """Give when contacts said that the mains was gone, until they said that it is there again."""
        for source in self.sources:
            number = heard_times.number_of(conn, source.channel)
            if source.quantity is not Quantity.MAINS or number is None:
                continue
            place = "" if source.place == ROOM else source.place
            name = self.name(place) if place else ""
            for start_ms, end_ms in heard_times.runs_of(conn, number, _ABSENT, asked.span.from_ms, asked.end_ms):
                span = Span(start_ms, end_ms)
                said = self._words.mains(source.channel, name, span)
                yield Fact(FactKind.MAINS_ABSENT, span, place, source.channel, said)

    def name(self, place: str) -> str:
        """Give the name of a place for people."""
        return self._places.name(place)

    @staticmethod
    def _spans(conn: sqlite3.Connection, number: int, interval_s: float, asked: Asked) -> list[Span] | None:
        """The gaps of a channel that are certain; None for one that was never heard."""
        late_ms, longest_ms = late_after_ms(interval_s), window_ms(interval_s)
        start_ms, end_ms = asked.span.from_ms, asked.end_ms
        # A clock of a probe that is ahead says more than the present moment.
        ahead_ms = asked.now_ms + late_ms
        newest_ms = heard_times.heard_before(conn, number, ahead_ms, late_ms, asked.not_before_ms)
        if newest_ms is None:
            return None
        before_ms = heard_times.heard_before(conn, number, start_ms, late_ms, asked.not_before_ms)
        behind_ms = heard_times.heard_behind(conn, number, end_ms, late_ms, ahead_ms)
        first_ms = start_ms if before_ms is None else before_ms
        last_ms = end_ms if behind_ms is None else behind_ms
        spans = [Span(*step) for step in heard_times.steps(conn, number, first_ms, last_ms, late_ms, longest_ms)]
        if behind_ms is None:
            spans.append(Span(newest_ms, None))
        return [span for span in spans if is_certain(span, interval_s, asked.now_ms)]

    @staticmethod
    def _gap(conn: sqlite3.Connection, number: int, channel: _Channel, span: Span, now_ms: int) -> Gap:
        filled = heard_times.filled(conn, number, span.from_ms, span.until(now_ms))
        whole = filled is not None and filled.hole_ms <= window_ms(channel.probe.interval_s)
        late = None if filled is None else Late(filled.readings, filled.came_ms, whole)
        return Gap(channel.source.channel, channel.source.probe, channel.source.place, span, late)
