"""Whether somebody confirmed that the weekly test arrived. Pure; times are UTC ms.

That an alarm is tested at least every seven days, and what is wrong with it is put right at once, is asked of the
alarms that living animals depend on (Welfare of Farmed Animals (England) Regulations 2007, Schedule 1, paragraph 21,
for artificial ventilation; taken by analogy). That a test counts only once a person says so is this project's choice:
that a service accepted a message does not say that a phone showed it.

Whoever acknowledged an alarm by a link does not confirm a test by that. The link tells the person and not the contact
that it came by: somebody with two contacts would never learn that the second one is dead.
"""

from collections.abc import Sequence
from datetime import tzinfo

from config.words import AlarmKind
from daemon.alarms.figures import clock_text
from daemon.standing.found import Found

CONFIRMED_WITHIN_MS = 24 * 3_600_000


def unconfirmed(
    contact: str, about: str, sent_ms: Sequence[int], now_ms: int, zone: tzinfo, within_ms: int = CONFIRMED_WITHIN_MS
) -> Found | None:
    """Judge one contact; `about` names it for people.

    `sent_ms` are the tests to it that are not confirmed, nor any later one, oldest first. A new test does not end the
    alarm of the one before: only somebody who confirms does.
    """
    overdue = [sent for sent in sent_ms if sent + within_ms <= now_ms]
    if not overdue:
        return None
    first = clock_text(overdue[0], now_ms, zone)
    reason = f"nobody confirmed the test of {first}"
    if len(overdue) > 1:
        reason = f"nobody confirmed {len(overdue)} tests in a row, the first of {first}"
    return Found(AlarmKind.TEST_UNCONFIRMED, contact, reason, about=about, since_ms=overdue[0] + within_ms)
