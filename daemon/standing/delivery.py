"""A contact that alerts do not reach. Pure."""

from config.words import AlarmKind
from daemon.alarms.figures import duration_text
from daemon.standing.found import Found
from daemon.storage.deliveries import Failing

FEWEST_FAILURES = 3
FAILING_MS = 10 * 60_000
"""So many attempts in a row over so long: a receiver that was restarted, or a router, has passed by then. Project
choice."""


def delivery_failing(failing: Failing, name: str, now_ms: int) -> Found | None:
    """A contact that took nothing for a while, or said that its address is gone; `name` is who is behind it."""
    lasted_ms = now_ms - failing.since_ms
    if not failing.gone and (failing.failures < FEWEST_FAILURES or lasted_ms < FAILING_MS):
        return None
    if failing.gone:
        reason = failing.error
    else:
        reason = f"{failing.failures} attempts in {duration_text(lasted_ms)} failed; the last one: {failing.error}"
    return Found(
        AlarmKind.DELIVERY_FAILING, failing.contact, reason.rstrip(". "), about=name, since_ms=failing.since_ms
    )
