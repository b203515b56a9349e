"""Sums of stored heat that are kept: never other than those that are read anew, whatever is written in between."""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from daemon.clutches import register
from daemon.clutches.register import NewClutch
from daemon.development.heat_interval import HeatPiece
from daemon.heat_totals import HeatTotals
from daemon.storage import heat
from daemon.storage.heat import HeatHour
from daemon.storage.journal import Journal

HOUR_MS = 3_600_000
HOURS = 6


def test_whatever_is_stored_or_forgotten_the_kept_sums_are_those_of_the_journal(journal: Journal) -> None:
    new = [NewClutch(label, "elaphe-taeniura", None, 0, 0, 9, "", "north/upper", 0) for label in ("A", "B")]
    ids = [journal.write(lambda conn, one=one: register.add_clutch(conn, one, "kim", 1)) for one in new]  # type: ignore[misc]

    class Hours(RuleBasedStateMachine):
        def __init__(self) -> None:
            super().__init__()
            self.totals = HeatTotals()
            journal.write(lambda conn: conn.execute("DELETE FROM heat_hour"))

        @rule(clutch=st.sampled_from(ids), hour=st.integers(0, HOURS), best=st.floats(0, 20))
        def store(self, clutch: int, hour: int, best: float) -> None:
            rows = [HeatHour(hour * HOUR_MS, HeatPiece(best_ch=best, covered_ms=HOUR_MS))]
            journal.write(lambda conn: heat.put_hours(conn, clutch, rows))

        @rule(clutch=st.sampled_from(ids), hour=st.integers(0, HOURS))
        def forget(self, clutch: int, hour: int) -> None:
            journal.write(lambda conn: heat.clear_hours(conn, clutch, hour * HOUR_MS))

        @rule(until=st.integers(0, HOURS + 2))
        def look(self, until: int) -> None:
            self.compare(until * HOUR_MS)

        @invariant()
        def same(self) -> None:
            self.compare((HOURS + 1) * HOUR_MS)

        def compare(self, until_ms: int) -> None:
            with journal.read() as conn:
                assert self.totals.read(conn, ids, until_ms) == heat.totals(conn, until_ms)

    run_state_machine_as_test(Hours, settings=settings(max_examples=25, stateful_step_count=20, deadline=None))


def test_what_has_not_changed_is_not_read_again(journal: Journal) -> None:
    new = NewClutch("A", "elaphe-taeniura", None, 0, 0, 9, "", "north/upper", 0)
    number = journal.write(lambda conn: register.add_clutch(conn, new, "kim", 1))
    rows = [HeatHour(0, HeatPiece(best_ch=7.0, covered_ms=HOUR_MS))]
    journal.write(lambda conn: heat.put_hours(conn, number, rows))
    totals = HeatTotals()
    with journal.read() as conn:
        totals.read(conn, [number], 9 * HOUR_MS)
        asked: list[str] = []
        conn.set_trace_callback(asked.append)
        totals.read(conn, [number], 9 * HOUR_MS)
        conn.set_trace_callback(None)
    assert asked
    assert [each for each in asked if "heat_hour" in each] == []
