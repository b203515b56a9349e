"""How long a session lasts. Pure; times are UTC ms."""

LIFE_MS = 30 * 86_400_000
"""From sign-in on, whatever happens meanwhile. NIST SP 800-63B section 4.1.3: 30 days."""
IDLE_MS = 14 * 86_400_000
"""Without a page asked for. Project choice: a keeper who is away for a week is not asked again."""
SEEN_EVERY_MS = 5 * 60_000
"""How often at the most it is written down that a session was seen."""
CONFIRMED_FOR_MS = 15 * 60_000
"""How long a password that was given counts for what needs it again (ASVS 7.5.1). Project choice."""


def is_alive(seen_ms: int, until_ms: int, now_ms: int) -> bool:
    """True where a session that nobody ended still counts. A clock set back ends none."""
    return now_ms < until_ms and now_ms - seen_ms < IDLE_MS


def is_to_be_seen(seen_ms: int, now_ms: int) -> bool:
    """True where it is time to write down that it was seen, also after the clock was set back."""
    return abs(now_ms - seen_ms) >= SEEN_EVERY_MS
