"""Whatever is corrected in the register, heat is that of the place where the clutch lay by all that is known now.

Two cabinets, two temperatures that do not change: 28.2 °C in the north, 26.2 °C in the south, and the developmental
zero of the species 13.2 °C (as in the other tests of heat). So by hand: 15 degree-hours an hour there, 13 here.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from daemon.clutches import corrections, register
from daemon.heat_course import HeatCourse
from daemon.heat_ledger import heat_over, heat_rule
from daemon.heat_now import HeatReader
from daemon.thermometers import AirChannels
from tests.daemon.kept import AIR, BOX, HOUR_MS, SOUTH, START_MS, Kept, steady
from tests.support.household import DAY_MS, a_clutch, write_site
from tests.support.journals import new_journal

NOW_MS = START_MS + 2 * DAY_MS
N1 = "north/upper/N1"


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        house = Kept(journal, write_site(tmp_path / "two", 1883, extra=SOUTH))
        house.put(steady(AIR, 28.2, START_MS, NOW_MS))
        house.put(steady("box-s1/air", 26.2, START_MS, NOW_MS))
        yield house


def heat_of(kept: Kept, clutch_id: int) -> tuple[float, float]:
    """Degree-hours since the set-up: as stored hours and newest readings give them, and from raw readings at once."""
    with kept.journal.read() as conn:
        air = AirChannels(kept.site)
        air.load(conn)
        clutch = next(each for each in register.clutches(conn) if each.clutch_id == clutch_id)
        rule = heat_rule(kept.profiles[clutch.species_id])
        assert rule is not None
        kept_up = HeatReader(conn, kept.site, kept.profiles, air, 1_800_000, NOW_MS).since_set_up(clutch)
        raw = heat_over(HeatCourse(conn, air, 1_800_000), clutch, clutch.set_up_ms, NOW_MS, rule)
    assert kept_up is not None
    return kept_up.best_ch, raw.best_ch


def check(kept: Kept, clutch_id: int, by_hand_ch: float) -> None:
    kept.evaluate(NOW_MS)
    kept_up, raw = heat_of(kept, clutch_id)
    assert raw == pytest.approx(by_hand_ch, abs=1e-6)
    assert kept_up == pytest.approx(raw, abs=1e-9)


def test_a_back_dated_move_changes_heat_as_a_recomputation_says(kept: Kept) -> None:
    clutch = kept.enter(a_clutch(START_MS))
    check(kept, clutch, 48 * 15)
    moved_ms = START_MS + 17 * HOUR_MS + 1_234_567
    kept.journal.write(lambda conn: register.move_clutch(conn, clutch, BOX, moved_ms, "kim", "", NOW_MS))
    hours = (moved_ms - START_MS) / HOUR_MS
    check(kept, clutch, hours * 15 + (48 - hours) * 13)
    back = kept.journal.write(lambda conn: register.move_clutch(conn, clutch, N1, moved_ms, "kim", "", NOW_MS))
    assert back is None
    check(kept, clutch, 48 * 15)


def test_a_back_dated_swap_changes_the_heat_of_both(kept: Kept) -> None:
    first, second = kept.enter(a_clutch(START_MS)), kept.enter(a_clutch(START_MS, "Bracken", BOX))
    check(kept, second, 48 * 13)
    noon_ms = START_MS + 12 * HOUR_MS
    kept.journal.write(lambda conn: corrections.swap_clutches(conn, first, second, noon_ms, "kim", "", NOW_MS))
    check(kept, first, 12 * 15 + 36 * 13)
    check(kept, second, 12 * 13 + 36 * 15)


def test_an_earlier_set_up_counts_from_then(kept: Kept) -> None:
    new = replace(a_clutch(START_MS), from_ms=START_MS + DAY_MS)
    clutch = kept.journal.write(lambda conn: register.add_clutch(conn, new, "kim", NOW_MS))
    check(kept, clutch, 24 * 15)
    edit = {"set_up_ms": START_MS + 6 * HOUR_MS}
    kept.journal.write(lambda conn: corrections.edit_clutch(conn, clutch, edit, "kim", "", NOW_MS))
    check(kept, clutch, 42 * 15)


def test_a_clutch_that_was_closed_and_opened_again_has_its_heat_without_a_gap(kept: Kept) -> None:
    clutch = kept.enter(a_clutch(START_MS))
    closed_ms = START_MS + 20 * HOUR_MS
    kept.journal.write(lambda conn: register.close_clutch(conn, clutch, closed_ms, "kim", "", NOW_MS))
    kept.evaluate(NOW_MS)
    kept.journal.write(lambda conn: corrections.reopen_clutch(conn, clutch, "kim", "mistake", NOW_MS))
    check(kept, clutch, 48 * 15)


def test_one_that_was_withdrawn_is_gone_from_pages_and_limits_and_its_box_is_free(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is withdrawn while its heat is half computed; the daemon must not go on with it for ever."""
    monkeypatch.setattr("daemon.heat_keeper.LONGEST_PART", 7)
    wrong = kept.enter(a_clutch(START_MS))
    assert kept.step(NOW_MS) > 0
    kept.journal.write(lambda conn: corrections.withdraw_clutch(conn, wrong, "kim", "mistake", NOW_MS))
    # A step says how much it has done: an end has to come.
    assert 0 in [kept.step(NOW_MS) for _ in range(50)]
    assert kept.clutches(NOW_MS) == {}
    right = kept.enter(a_clutch(START_MS, "Right"))
    check(kept, right, 48 * 15)
    assert set(kept.clutches(NOW_MS)) == {"Right"}
    kept.restart()
    check(kept, right, 48 * 15)
    kept.journal.write(lambda conn: register.move_clutch(conn, right, BOX, START_MS, "kim", "", NOW_MS))
    kept.journal.write(lambda conn: corrections.reopen_clutch(conn, wrong, "kim", "it is real", NOW_MS))
    check(kept, wrong, 48 * 15)
    check(kept, right, 48 * 13)
