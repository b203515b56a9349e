"""Heat after a clock was set back by a month: each reading costs a few hours of heat, and the sum stays right."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.heat_ledger import HeatLedger, hour_of
from daemon.storage import heat
from tests.daemon.kept import AIR, HOUR_MS, START_MS, Kept, at, steady
from tests.daemon.test_heat_recomputed import from_raw, kept_up
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal

AHEAD_MS = 30 * DAY_MS
FEW = 6


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Kept(journal, write_site(tmp_path / "site", 1883))


def same(kept: Kept, now_ms: int) -> bool:
    found, expected = kept_up(kept, now_ms), from_raw(kept, now_ms)
    assert found.best_ch == pytest.approx(expected.best_ch, abs=1e-6)
    assert (found.covered_ms, found.missing_ms) == (expected.covered_ms, expected.missing_ms)
    assert found.low_ch <= expected.low_ch + 1e-6
    assert found.high_ch >= expected.high_ch - 1e-6
    return True


def last_hour_ms(kept: Kept) -> int:
    with kept.journal.read() as conn:
        return max(heat.last_hours(conn).values())


def test_a_reading_after_a_clock_was_set_back_a_month_touches_a_few_hours(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    clutch_lay_ms = START_MS
    kept.enter(a_clutch(clutch_lay_ms))
    kept.put(steady(AIR, 28.2, START_MS, START_MS + DAY_MS))
    kept.evaluate(START_MS + DAY_MS)
    # Half a day by a clock that is a month ahead; then it is set right, and everything that comes is behind that.
    ahead_ms = START_MS + DAY_MS + AHEAD_MS
    kept.put(steady(AIR, 27.0, ahead_ms, ahead_ms + DAY_MS // 2))
    kept.evaluate(ahead_ms + DAY_MS // 2)
    computed: list[int] = []
    compute = HeatLedger.compute_hour

    def counted(self: HeatLedger, *args: object) -> object:
        computed.append(1)
        return compute(self, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(HeatLedger, "compute_hour", counted)
    now_ms = START_MS + DAY_MS
    for number in range(40):
        now_ms += 20 * MINUTE_MS
        kept.put(at(now_ms, {AIR: 29.0 + number % 3}))
        if number == 20:
            kept.restart()
        computed.clear()
        kept.evaluate(now_ms)
        assert len(computed) <= FEW
        assert last_hour_ms(kept) == hour_of(now_ms) - HOUR_MS
        assert number % 13 or same(kept, now_ms)
    # Time comes to what lies ahead, and goes past it.
    for at_ms in (ahead_ms + HOUR_MS, ahead_ms + DAY_MS):
        kept.put(at(at_ms, {AIR: 28.5}))
        kept.evaluate(at_ms)
        assert same(kept, at_ms)
