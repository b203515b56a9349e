"""Pure: how long this program itself saw nothing. Times are UTC ms."""

from collections.abc import Iterable, Sequence

from daemon.alarms.figures import duration_text
from daemon.review.account import Blind, BlindKind, BlindStretch
from daemon.review.telling import counted
from daemon.review.values import Fact, FactKind, Span

_KINDS = {
    FactKind.SERVICE_STOPPED: BlindKind.SERVICE,
    FactKind.SERVICE_CUT_OFF: BlindKind.SERVICE,
    FactKind.MACHINE_RESTARTED: BlindKind.SERVICE,
    FactKind.MACHINE_SLEPT: BlindKind.SERVICE,
    FactKind.BROKER_LOST: BlindKind.BROKER,
    FactKind.SITE_GAP: BlindKind.SITE,
    FactKind.PROBE_GAP: BlindKind.PROBE,
}


def blind_of(facts: Iterable[Fact], period: Span, now_ms: int) -> Blind:
    """Give the stretches within a period, in order of time, and how long they are together."""
    from_ms, to_ms = period.from_ms, period.until(now_ms)
    found: list[BlindStretch] = []
    for fact in facts:
        kind = _KINDS.get(fact.kind)
        start_ms, end_ms = max(fact.span.from_ms, from_ms), min(fact.span.until(now_ms), to_ms)
        if kind is not None and start_ms < end_ms:
            subject = fact.subject if kind is BlindKind.PROBE else ""
            found.append(BlindStretch(kind, Span(start_ms, end_ms), subject, fact.place, fact.words))
    found.sort(key=lambda each: (each.span.from_ms, each.kind, each.subject))
    whole = [each.span for each in found if each.kind is not BlindKind.PROBE]
    total_ms = covered_ms(whole, now_ms)
    channels = sorted({each.subject for each in found if each.kind is BlindKind.PROBE})
    probes = tuple(
        (channel, covered_ms([*whole, *(each.span for each in found if each.subject == channel)], now_ms))
        for channel in channels
    )
    share = total_ms / (to_ms - from_ms) if to_ms > from_ms else 0.0
    return Blind(tuple(found), total_ms, share, probes, _words(total_ms, share, probes, to_ms - from_ms))


def covered_ms(spans: Sequence[Span], now_ms: int) -> int:
    """How long these stretches are together, where several lie over each other once."""
    total_ms, end_ms = 0, 0
    for span in sorted(spans, key=lambda each: each.from_ms):
        start_ms = max(span.from_ms, end_ms)
        total_ms += max(span.until(now_ms) - start_ms, 0)
        end_ms = max(end_ms, span.until(now_ms))
    return total_ms


def _words(total_ms: int, share: float, probes: Sequence[tuple[str, int]], length_ms: int) -> str:
    whole = duration_text(length_ms)
    if not total_ms and not probes:
        return f"This program saw every probe through all of these {whole}."
    if not total_ms:
        longest = max(probes, key=lambda each: each[1])
        return (
            f"This program ran and listened through all of these {whole}; {counted(len(probes), 'channel')} of a probe "
            f"fell silent, {longest[0]} for the longest, {duration_text(longest[1])}."
        )
    return (
        f"For {duration_text(total_ms)} of these {whole} ({100 * share:.0f} %) this program saw nothing at all, so it "
        "could call nobody about what happened then."
    )
