"""Reads the facts of a period from the journal: what happened, each whole, be it that it began before or still lasts.

What it costs depends on the period and not on the history before it: every query goes by an index to its own rows.
"""

import sqlite3
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from config.site import Site
from daemon.review.around import Around
from daemon.review.downtime import NO_EARLIER_MS, down_facts, sleep_facts, step_facts
from daemon.review.fact_words import FactWords
from daemon.review.gaps import overlaps
from daemon.review.values import Fact, FactKind, Span
from daemon.review_alarm_facts import AlarmFacts
from daemon.review_gap_facts import Asked, GapFacts
from daemon.storage import clock_steps, runs, sleeps


@dataclass(frozen=True, slots=True)
class Found:
    """The facts of a period, and what the journal shows around them."""

    facts: tuple[Fact, ...]
    around: Around


class FactReader:
    """Reads for one site."""

    def __init__(self, site: Site) -> None:
        self._words = FactWords(ZoneInfo(site.time_zone), site.temperature_unit == "F")
        self._gaps = GapFacts(site, self._words)
        self._alarms = AlarmFacts(site, self._words, self._gaps.sources)
        self._channels = frozenset(source.channel for source in self._gaps.sources)

    def read(self, conn: sqlite3.Connection, from_ms: int, to_ms: int, now_ms: int) -> Found:
        """Give every fact with a moment from one time to another, both included; `now_ms` is not before either.

        What may still be changed by readings on their way is left out until it is certain.
        """
        first_ms = runs.first_start_ms(conn)
        asked = Asked(Span(from_ms, to_ms), now_ms, 0 if first_ms is None else first_ms)
        gaps, heard = self._gaps.gaps(conn, asked)
        facts = [
            *self._gaps.facts(gaps, heard, asked),
            *self._mains(conn, asked),
            *self._alarms.facts(conn, asked),
            *self._alarms.calls(conn, asked),
            *self._of_runs(conn, asked),
        ]
        remarks = tuple(self._alarms.remarks(conn, asked))
        return Found(tuple(dict.fromkeys(facts)), Around(tuple(heard), tuple(gaps), remarks))

    def looks_at(self, fact: Fact) -> bool:
        """Tell whether a fact of this kind and subject would be found again: not of a probe that left the site."""
        if fact.kind in (FactKind.PROBE_GAP, FactKind.EXCURSION, FactKind.MAINS_ABSENT):
            return fact.subject in self._channels
        return fact.kind is not FactKind.PROBE_FAULT or fact.subject in self._channels or "/" not in fact.subject

    def _mains(self, conn: sqlite3.Connection, asked: Asked) -> list[Fact]:
        alarms = self._alarms.mains_lost(conn, asked)
        return [
            replace(fact, critical=any(overlaps(alarm, fact.span) for alarm in alarms))
            for fact in self._gaps.mains(conn, asked)
        ]

    def _of_runs(self, conn: sqlite3.Connection, asked: Asked) -> list[Fact]:
        known = runs.runs_since(conn, asked.span.from_ms, NO_EARLIER_MS)
        if not known:
            return []
        steps = clock_steps.of_runs(conn, known[0].run_id, known[-1].run_id)
        facts = [*down_facts(known, steps, self._words), *step_facts(known, steps, self._words)]
        facts += sleep_facts(sleeps.between(conn, asked.span.from_ms, asked.end_ms), self._words)
        span = Span(asked.span.from_ms, asked.end_ms)
        return [fact for fact in facts if overlaps(fact.span, span)]
