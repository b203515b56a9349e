"""How long to wait after wrong passwords. Pure; times are ms of one clock.

NIST SP 800-63B section 5.2.2: no more than 100 failures in a row on one account, and waits that grow from 30 s to 1 h.
"""

from dataclasses import dataclass

FREE_TRIES = 5
"""Project choice."""
FIRST_WAIT_MS = 30_000
LONGEST_WAIT_MS = 3_600_000
MOST_TRIES = 100
_MOST_DOUBLINGS = 7


@dataclass(frozen=True, slots=True)
class Tries:
    """Wrong passwords in a row, and the wait that follows from the last of them, counted from `from_ms` on."""

    failures: int = 0
    from_ms: int = 0
    wait_ms: int = 0

    @property
    def until_ms(self) -> int:
        """When the wait is over."""
        return self.from_ms + self.wait_ms

    @property
    def are_used_up(self) -> bool:
        """True where no password is looked at any more."""
        return self.failures >= MOST_TRIES

    def left_ms(self, now_ms: int) -> int:
        """How long to wait from now; 0 for not at all.

        A clock that was set back to before the wait began says nothing about it, so it is over: nobody is kept out
        because of a clock, and whoever tries meanwhile waits for the whole of the next one.
        """
        return self.until_ms - now_ms if self.from_ms <= now_ms < self.until_ms else 0


def one_more(tries: Tries, now_ms: int) -> Tries:
    """Give the tries after another wrong password."""
    failures = tries.failures + 1
    over = failures - FREE_TRIES
    wait_ms = min(FIRST_WAIT_MS << min(over, _MOST_DOUBLINGS), LONGEST_WAIT_MS) if over >= 0 else 0
    return Tries(failures, now_ms, wait_ms)


def wait_words(seconds: float) -> str:
    """Write a wait as people say it."""
    if seconds <= 90:  # noqa: PLR2004 - a minute and a half in seconds
        whole = max(1, round(seconds))
        return f"{whole} second{'s' * (whole != 1)}"
    whole = -(-round(seconds) // 60)
    return f"{whole} minutes" if whole < 60 else "an hour"  # noqa: PLR2004 - minutes
