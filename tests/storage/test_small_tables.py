"""Heat by the hour, what probes say of themselves, and when the daemon ran."""

import pytest

from daemon.clutches import register
from daemon.clutches.register import NewClutch
from daemon.development.heat_interval import HeatPiece
from daemon.storage import heat, runs, status
from daemon.storage.heat import HeatHour, HeatTotal
from daemon.storage.journal import Journal
from daemon.storage.runs import ServiceRun

HOUR_MS = 3_600_000


def piece(best_ch: float, covered_ms: int) -> HeatPiece:
    return HeatPiece(best_ch - 1, best_ch, best_ch + 1, covered_ms=covered_ms)


def hour(start_ms: int, best_ch: float, covered_ms: int) -> HeatHour:
    return HeatHour(start_ms, piece(best_ch, covered_ms))


@pytest.fixture
def clutch_ids(journal: Journal) -> list[int]:
    new = [NewClutch(label, "elaphe-taeniura", None, 0, 0, 9, "", "north/upper", 0) for label in ("A", "B")]
    return [journal.write(lambda conn, one=one: register.add_clutch(conn, one, "kim", 1)) for one in new]  # type: ignore[misc]


def test_an_hour_stored_again_replaces_the_hour(journal: Journal, clutch_ids: list[int]) -> None:
    first, second = clutch_ids
    journal.write(lambda conn: heat.put_hours(conn, first, [hour(0, 10.0, 3000), hour(HOUR_MS, 11.5, 3600)]))
    journal.write(lambda conn: heat.put_hours(conn, first, [hour(0, 12.0, 3500)]))
    journal.write(lambda conn: heat.put_hours(conn, second, [hour(0, 1.0, 2)]))
    with journal.read() as conn:
        totals = heat.totals(conn, 2 * HOUR_MS)
        assert totals[first] == HeatTotal(piece(12.0, 3500) + piece(11.5, 3600), HOUR_MS)
        assert totals[second] == HeatTotal(piece(1.0, 2), 0)
        assert heat.between(conn, HOUR_MS, 2 * HOUR_MS) == {first: piece(11.5, 3600)}
        assert heat.totals(conn, 2 * HOUR_MS - 1)[first].piece == piece(12.0, 3500)
        assert heat.hours(conn, first) == [hour(0, 12.0, 3500), hour(HOUR_MS, 11.5, 3600)]
        assert heat.last_hours(conn) == {first: HOUR_MS, second: 0}


def test_hours_are_forgotten_from_a_moment_or_altogether(journal: Journal, clutch_ids: list[int]) -> None:
    first, second = clutch_ids
    for clutch_id in clutch_ids:
        rows = [hour(n * HOUR_MS, 1.0, 1) for n in range(4)]
        journal.write(lambda conn, number=clutch_id, rows=rows: heat.put_hours(conn, number, rows))  # type: ignore[misc]
    journal.write(lambda conn: heat.clear_hours(conn, first, 2 * HOUR_MS))
    journal.write(lambda conn: heat.clear_hours(conn, second))
    with journal.read() as conn:
        assert heat.totals(conn, 9 * HOUR_MS) == {first: HeatTotal(piece(1.0, 1) + piece(1.0, 1), HOUR_MS)}


def test_the_cursor_starts_at_nothing_and_keeps_its_place(journal: Journal) -> None:
    with journal.read() as conn:
        assert heat.get_cursor(conn) == 0
    for seq in (5, 17):
        journal.write(lambda conn, seq=seq: heat.set_cursor(conn, seq))  # type: ignore[misc]
    with journal.read() as conn:
        assert heat.get_cursor(conn) == 17


def test_a_probe_is_what_it_last_said(journal: Journal) -> None:
    for online, at_ms in ((True, 1), (False, 2), (False, 3)):
        journal.write(lambda conn, said=online, at=at_ms: status.set_probe_status(conn, "north-air", said, at))  # type: ignore[misc]
    with journal.read() as conn:
        assert status.probe_statuses(conn) == {"north-air": (False, 2)}, "saying it once more is no change"


def test_a_run_that_was_cut_off_has_no_end_and_shows_when_it_was_last_alive(journal: Journal) -> None:
    cut_off = journal.write(lambda conn: runs.begin_run(conn, 1000, "0.1.0"))
    journal.write(lambda conn: runs.touch_run(conn, cut_off, 5000))
    orderly = journal.write(lambda conn: runs.begin_run(conn, 9000, "0.2.0"))
    journal.write(lambda conn: runs.end_run(conn, orderly, 9500))
    with journal.read() as conn:
        assert runs.latest_runs(conn, 5) == [
            ServiceRun(orderly, 9000, 9500, 9500, "0.2.0"),
            ServiceRun(cut_off, 1000, 5000, None, "0.1.0"),
        ]
        assert len(runs.latest_runs(conn, 1)) == 1


def test_the_basis_of_a_clutch_is_the_last_one_set(journal: Journal, clutch_ids: list[int]) -> None:
    first, second = clutch_ids
    for clutch_id, basis in ((first, "old"), (second, "other"), (first, "new")):
        journal.write(lambda conn, number=clutch_id, basis=basis: heat.set_basis(conn, number, basis))  # type: ignore[misc]
    with journal.read() as conn:
        assert heat.bases(conn) == {first: "new", second: "other"}
