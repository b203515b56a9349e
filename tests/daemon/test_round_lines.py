"""When the next round is due, as the digest says it."""

from daemon.clutches import register
from daemon.round_lines import RoundLines
from tests.daemon.kept import START_MS, Kept
from tests.support.household import DAY_MS, a_clutch
from tests.support.rounds_done import a_round


def said(kept: Kept, now_ms: int) -> list[str]:
    with kept.journal.read() as conn:
        return list(RoundLines(kept.site)(conn, now_ms))


def test_it_is_due_a_week_after_the_last_one_or_after_the_eggs_came(kept: Kept) -> None:
    """START_MS is 28 May 2026, 20:26 UTC."""
    assert said(kept, START_MS) == []
    number = kept.journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS - DAY_MS), "test", START_MS))
    assert said(kept, START_MS) == ["North cabinet: round due 3 Jun."]
    assert said(kept, START_MS + 8 * DAY_MS) == ["North cabinet: round was due 3 Jun."]
    kept.journal.write(lambda conn: a_round(conn, "north", START_MS + DAY_MS))
    assert said(kept, START_MS + 3 * DAY_MS) == ["North cabinet: round due 3 Jun."]
    kept.journal.write(lambda conn: a_round(conn, "north", START_MS + 2 * DAY_MS, [number]))
    assert said(kept, START_MS + 4 * DAY_MS) == ["North cabinet: round due 6 Jun."]
