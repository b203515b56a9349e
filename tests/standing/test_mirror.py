"""When a mirror is behind: it has to wait for long, and nothing may get there meanwhile."""

from datetime import UTC

import pytest

from config.words import AlarmKind
from daemon.standing.mirror import MirrorFacts, mirror_behind

NOW = 1_790_000_000_000
MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS


def facts(oldest_ms: int, progress_ms: int | None, trouble: str = "") -> MirrorFacts:
    return MirrorFacts(1234, oldest_ms, progress_ms, NOW - 5 * HOUR_MS, trouble)


@pytest.mark.parametrize(
    "well",
    [
        facts(0, NOW - 10 * HOUR_MS),
        facts(NOW - 59 * MINUTE_MS, NOW - 59 * MINUTE_MS),
        facts(NOW - 24 * HOUR_MS, NOW - 14 * MINUTE_MS),
    ],
    ids=["nothing waits", "not for an hour", "years are copied at first"],
)
def test_that_is_none(well: MirrorFacts) -> None:
    assert mirror_behind(well, NOW, UTC) is None


def test_that_is_one_with_what_waits_since_when_and_why() -> None:
    # 1,790,000,000 s are 21 September 2026, 14:13:20 UTC; two hours before that is 12:13.
    found = mirror_behind(facts(NOW - 2 * HOUR_MS, NOW - 2 * HOUR_MS, "it is not ready"), NOW, UTC)
    assert found is not None
    assert (found.kind, found.subject) == (AlarmKind.MIRROR_BEHIND, "mirror")
    assert found.since_ms == NOW - HOUR_MS
    assert "1,234 readings wait" in found.reason
    assert "12:13" in found.reason
    assert found.reason.endswith(": it is not ready")


def test_one_that_never_took_anything_is_judged_by_when_it_began() -> None:
    found = mirror_behind(facts(NOW - 2 * HOUR_MS, None), NOW, UTC)
    assert found is not None
    assert "nothing yet" in found.reason
