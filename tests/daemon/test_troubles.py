"""What a daemon says of itself."""

from contextlib import closing
from pathlib import Path

from daemon.storage import heat
from daemon.storage.connections import connect
from daemon.troubles import LATE_S, UNSEALED_S, EvaluationProgress, Sealing, Troubles
from tests.daemon.kept import AIR, START_MS, Kept, at

LATE = ("Readings are stored, but they wait to be evaluated: alarms may be late.",)


def test_an_evaluation_that_stands_still_is_noticed_at_whatever_pace_it_is_asked(kept: Kept) -> None:
    now_s = [0.0]
    progress = EvaluationProgress(kept.journal, lambda: now_s[0])

    def asked_at(seconds: float) -> tuple[str, ...]:
        now_s[0] = seconds
        return progress.reasons()

    assert asked_at(0) == ()
    kept.put(at(START_MS, {AIR: 28.0}))
    assert [asked_at(seconds) for seconds in (1, 1.1, LATE_S)] == [(), (), ()]
    kept.put(at(START_MS + 1, {AIR: 28.0}))
    assert asked_at(LATE_S + 1) == LATE
    # It takes the first of the two: that is progress, and the time begins anew.
    kept.journal.write(lambda conn: heat.set_cursor(conn, 1))
    assert asked_at(LATE_S + 2) == ()
    assert asked_at(LATE_S + 3) == ()
    assert asked_at(2 * LATE_S + 2) == LATE
    kept.journal.write(lambda conn: heat.set_cursor(conn, 2))
    assert asked_at(10 * LATE_S) == ()


def test_a_row_that_stays_outside_the_chain_is_said_after_a_while(kept: Kept) -> None:
    now_s = [0.0]
    sealing = Sealing(lambda: now_s[0])

    def asked_at(seconds: float) -> bool:
        now_s[0] = seconds
        with kept.journal.read() as conn:
            return bool(sealing.reasons(conn))

    assert not asked_at(0)
    with closing(connect(kept.journal.path, 5)) as conn:
        conn.execute("INSERT INTO unsealed (source_id, row_key) VALUES (1, 'x')")
    assert [asked_at(seconds) for seconds in (1, UNSEALED_S, UNSEALED_S + 1)] == [False, False, True]
    with closing(connect(kept.journal.path, 5)) as conn:
        conn.execute("DELETE FROM unsealed")
    assert not asked_at(3 * UNSEALED_S)


def test_a_daemon_without_parts_is_starting_and_a_closed_journal_is_said(kept: Kept, tmp_path: Path) -> None:
    troubles = Troubles(kept.journal, kept.site, lambda: START_MS, 65_536)
    assert troubles.sentences() == ("Clutchwarden is starting.",)
    kept.journal.close()
    [said] = troubles._of_journal()
    assert said.startswith("The daemon does not know how it fares: cannot use the journal")
