"""When a backup and a restore test are due. Pure; times are UTC ms."""

RETRY_MS = 30 * 60_000
"""So long after an attempt that failed the next one is made. Project choice."""
TEST_EVERY_MS = 30 * 24 * 3_600_000
TEST_AGAIN_MS = 20 * 3_600_000
"""A restore test that failed is made again with the next backup. Project choice."""
CLOCK_AHEAD_MS = 3_600_000


def backup_is_due(now_ms: int, night_ms: int, good_ms: int | None, tried_ms: int | None) -> bool:
    """Judge by the newest moment that was stated (`night_ms`), and by when one was made well and tried last.

    A night that was missed is made up for. One that is dated ahead was made while the clock was wrong: it counts for
    nothing.
    """
    ahead_ms = now_ms + CLOCK_AHEAD_MS
    if good_ms is not None and night_ms <= good_ms <= ahead_ms:
        return False
    return tried_ms is None or not now_ms - RETRY_MS < tried_ms <= ahead_ms


def trial_is_due(now_ms: int, tested_ms: int | None, *, good: bool) -> bool:
    """Judge by when the newest test was made, and whether it was good."""
    if tested_ms is None or tested_ms > now_ms + CLOCK_AHEAD_MS:
        return True
    return now_ms - tested_ms >= (TEST_EVERY_MS if good else TEST_AGAIN_MS)
