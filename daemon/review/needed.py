"""Pure: whether people have to review an incident, and why.

A review is due once an alarm of the highest priority is over, after any gap of more than a quarter of an hour, and
after any call that reached nobody, also where nobody was woken: common practice after incidents, no source for the
figure, which is a project choice.
"""

from collections.abc import Sequence

from daemon.alarms.figures import duration_text
from daemon.review.joining import GAPS
from daemon.review.values import Fact, FactKind

LONGEST_GAP_MS = 15 * 60_000


def review_reason(facts: Sequence[Fact], now_ms: int) -> str:
    """Give why people have to review what these facts come to; empty where no rule asks for that."""
    reasons = []
    if any(fact.critical and fact.span.to_ms is not None for fact in facts):
        reasons.append("an alarm of the highest priority was on")
    longest_ms = max((fact.span.until(now_ms) - fact.span.from_ms for fact in facts if fact.kind in GAPS), default=0)
    if longest_ms > LONGEST_GAP_MS:
        # Only the rule, where it may grow: a figure would be another one at each look.
        is_over = all(fact.span.to_ms is not None for fact in facts if fact.kind in GAPS)
        reasons.append(f"nothing was heard for {duration_text(longest_ms)}" if is_over else "a gap of over 15 minutes")
    if any(fact.kind is FactKind.DELIVERY_FAILED for fact in facts):
        reasons.append("a call reached nobody, or nobody for long")
    return "; ".join(reasons)
