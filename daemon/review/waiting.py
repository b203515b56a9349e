"""Pure: which incidents wait for somebody to write their review, in a line of the digest. Times are UTC ms."""

from collections.abc import Mapping, Sequence

from daemon.review.account_summary import TITLES
from daemon.review.telling import Telling, listed
from daemon.review.values import Incident

PATIENCE_MS = 3 * 86_400_000
"""So long after its end, and after the last note, nobody is reminded of a review. Project choice."""
_MOST = 3


def waiting_line(due: Sequence[Incident], noted_ms: Mapping[int, int], now_ms: int, telling: Telling) -> str:
    """Say which reviews have waited for long; empty where none has.

    `due` are the incidents without an outcome that have to be reviewed, `noted_ms` when something was last written
    about each. One that is not over counts from its begin.
    """
    waiting = [each for each in due if now_ms - _last_ms(each, noted_ms) >= PATIENCE_MS]
    if not waiting:
        return ""
    which = [f"{each.incident_id} ({TITLES[each.cause]}, {telling.moment(each.span.from_ms)})" for each in waiting]
    count = "1 incident waits" if len(waiting) == 1 else f"{len(waiting)} incidents wait"
    return f"{count} for a review: {listed(which, most=_MOST)}"


def _last_ms(incident: Incident, noted_ms: Mapping[int, int]) -> int:
    end_ms = incident.span.from_ms if incident.span.to_ms is None else incident.span.to_ms
    return max(end_ms, noted_ms.get(incident.incident_id, end_ms))
