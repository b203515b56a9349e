"""A machine whose clock is not right yet: what is dated by its arrival waits, and is placed when it came."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.check import check_site
from config.site import Site
from daemon.arrival import Arrival
from daemon.clock_trust import AFTER_BOOT_S, LONGEST_WAIT_S, ClockTrust
from daemon.held_messages import full
from daemon.ingest import Ingest
from daemon.storage import held, messages, samples
from daemon.storage.held import HeldMessage
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Outcome, Reading
from tests.support.household import MEASURE, MINUTE_MS, pack, write_site
from tests.support.journals import new_journal

TRUE_MS = 1_780_000_000_000
"""The true time when the machine starts; the newest reading is from twenty minutes before."""
NEWEST_MS = TRUE_MS - 20 * MINUTE_MS
UNDATED = b'[{"n":"air","u":"Cel","v":%.1f}]'
AIR = "north-air/air"


class Machine:
    """A machine that starts with its clock at some moment; `up_s` goes on by itself, `clock_ms` may be set."""

    def __init__(self, journal: Journal, site: Site, clock_ms: int, boot: str = "first") -> None:
        self.journal, self.site, self.boot = journal, site, boot
        self.up_s, self.ahead_ms, self.synchronised = 20.0, clock_ms - 20_000, False
        self.restart()

    def restart(self) -> None:
        """The daemon is killed and starts anew."""
        self.trust = ClockTrust(self.now_ms, NEWEST_MS, lambda: self.up_s, lambda: self.synchronised, self.boot)
        self.ingest = Ingest(Decoder(self.site), self.journal, lambda: None, trust=self.trust)

    def now_ms(self) -> int:
        return self.ahead_ms + round(self.up_s * 1000)

    def set_right(self) -> None:
        self.ahead_ms, self.synchronised = TRUE_MS - 20_000, True

    def hear(self, payload: bytes, topic: str = MEASURE) -> None:
        now_ms = self.now_ms()
        decoded = self.ingest.decode(topic, payload, False, now_ms)
        self.ingest.commit([Arrival(topic, payload, False, now_ms, decoded, 1, 1)]).result(10)

    def stored(self) -> list[tuple[int, float]]:
        with self.journal.read() as conn:
            return [(row.measured_at_ms, row.value) for row in samples.after(conn, 1, 10_000)]

    def outcomes(self) -> dict[Outcome, int]:
        with self.journal.read() as conn:
            return messages.outcome_counts(conn)

    def held(self) -> list[HeldMessage]:
        with self.journal.read() as conn:
            return held.oldest(conn, 0, 10_000)

    def waiting(self) -> int:
        return len(self.held())


@pytest.fixture
def site(tmp_path: Path) -> Site:
    checked = check_site(write_site(tmp_path / "site", 1883))
    assert checked.site is not None
    return checked.site


@pytest.fixture
def journal(tmp_path: Path, site: Site) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        ids = opened.write(lambda conn: samples.channel_ids(conn, Decoder(site).channels.values()))
        row = Reading(AIR, NEWEST_MS, NEWEST_MS, 27.0, 0)
        opened.write(lambda conn: samples.append(conn, ids, [row]))
        yield opened


@pytest.mark.parametrize("clock_ms", [0, NEWEST_MS - 60 * MINUTE_MS, NEWEST_MS + MINUTE_MS])
def test_readings_without_a_time_are_placed_when_they_came(journal: Journal, site: Site, clock_ms: int) -> None:
    """The clock stands at the epoch, at an hour before the last reading, or goes on from where it was."""
    machine = Machine(journal, site, clock_ms)
    for minute in range(4):
        machine.up_s = 20 + minute * 60
        machine.hear(UNDATED % (27 + minute / 10))
    assert machine.stored() == []
    assert machine.waiting() == 4
    machine.set_right()
    machine.up_s = 20 + 4 * 60
    machine.hear(UNDATED % 27.4)
    # One a minute from the true start on, in order, the one that came last among them.
    assert machine.stored() == [(TRUE_MS + n * MINUTE_MS, round(27 + n / 10, 1)) for n in range(5)]
    assert machine.waiting() == 0
    assert machine.outcomes() == {Outcome.STORED: 5}


def test_a_kill_in_between_loses_nothing(journal: Journal, site: Site) -> None:
    machine = Machine(journal, site, 0)
    machine.hear(UNDATED % 27.1)
    machine.up_s += 60
    machine.restart()
    machine.hear(UNDATED % 27.2)
    machine.set_right()
    machine.restart()
    machine.up_s += 60
    machine.hear(UNDATED % 27.3)
    assert machine.stored() == [(TRUE_MS, 27.1), (TRUE_MS + MINUTE_MS, 27.2), (TRUE_MS + 2 * MINUTE_MS, 27.3)]


def test_what_was_held_over_a_start_of_the_machine_is_refused_and_counted(journal: Journal, site: Site) -> None:
    Machine(journal, site, 0).hear(UNDATED % 27.1)
    machine = Machine(journal, site, TRUE_MS, boot="second")
    machine.synchronised = True
    machine.hear(UNDATED % 27.2)
    assert [value for _, value in machine.stored()] == [27.2]
    assert machine.outcomes() == {Outcome.UNTIMED: 1, Outcome.STORED: 1}


def test_a_reading_with_a_time_of_its_own_goes_on(journal: Journal, site: Site) -> None:
    machine = Machine(journal, site, NEWEST_MS + MINUTE_MS)
    machine.hear(pack(NEWEST_MS + MINUTE_MS, {"air": 27.1}))
    assert machine.stored() == [(NEWEST_MS + MINUTE_MS, 27.1)]


def test_one_whose_time_lies_ahead_of_the_clock_waits_and_is_not_refused(journal: Journal, site: Site) -> None:
    machine = Machine(journal, site, 0)
    machine.hear(pack(TRUE_MS, {"air": 27.1}))
    assert machine.stored() == []
    machine.set_right()
    machine.up_s += 60
    machine.hear(pack(TRUE_MS + MINUTE_MS, {"air": 27.2}))
    assert machine.stored() == [(TRUE_MS, 27.1), (TRUE_MS + MINUTE_MS, 27.2)]


def test_a_time_that_is_never_told_is_not_waited_for_for_ever(journal: Journal, site: Site) -> None:
    machine = Machine(journal, site, NEWEST_MS + MINUTE_MS)
    machine.hear(UNDATED % 27.1)
    machine.up_s = AFTER_BOOT_S + 1
    machine.hear(UNDATED % 27.2)
    assert [value for _, value in machine.stored()] == [27.1, 27.2]
    behind = Machine(journal, site, NEWEST_MS - 60 * MINUTE_MS)
    behind.hear(UNDATED % 27.3)
    assert behind.waiting() == 1
    behind.up_s += LONGEST_WAIT_S
    behind.hear(UNDATED % 27.4)
    assert behind.waiting() == 0


def test_no_message_waits_longer_where_the_daemon_is_started_again_and_again(journal: Journal, site: Site) -> None:
    machine = Machine(journal, site, NEWEST_MS - 60 * MINUTE_MS)
    for _ in range(3):
        machine.hear(UNDATED % 36.0)
        machine.up_s += LONGEST_WAIT_S / 3
        machine.restart()
    machine.hear(UNDATED % 36.0)
    assert len(machine.stored()) == 4
    assert machine.waiting() == 0


def test_a_clock_that_is_set_right_does_not_wait_for_readings_that_were_dated_ahead(
    journal: Journal, site: Site
) -> None:
    """The newest reading was dated by a clock that was ten years ahead."""
    machine = Machine(journal, site, NEWEST_MS - 10 * 365 * 24 * 60 * MINUTE_MS)
    machine.synchronised = True
    machine.hear(UNDATED % 36.0)
    assert machine.waiting() == 0
    with journal.read() as conn:
        assert conn.execute("SELECT count(*) FROM sample WHERE value = 36.0").fetchone() == (1,)


@pytest.mark.parametrize(
    ("clock_ms", "synchronised"), [(TRUE_MS + 90 * MINUTE_MS, False), (TRUE_MS, True)], ids=["long after", "told"]
)
def test_a_clock_that_is_right_holds_nothing(journal: Journal, site: Site, clock_ms: int, synchronised: bool) -> None:
    machine = Machine(journal, site, clock_ms)
    machine.synchronised = synchronised
    machine.hear(UNDATED % 27.1)
    assert machine.stored() == [(machine.now_ms(), 27.1)]


def test_more_than_can_be_held_is_refused_and_counted(
    journal: Journal, site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(held, "MOST_HELD", 3)
    machine = Machine(journal, site, 0)
    for _ in range(5):
        machine.hear(UNDATED % 27.1)
    assert machine.waiting() == 3
    assert machine.outcomes() == {Outcome.UNTIMED: 2}


def test_large_messages_are_held_up_to_a_size_and_the_oldest_stay_and_people_are_told(
    journal: Journal, site: Site, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    machine = Machine(journal, site, 0)
    text = UNDATED % 27.1
    monkeypatch.setattr(held, "MOST_HELD_BYTES", 3 * len(text) + 3 * len(MEASURE))
    for _ in range(3):
        machine.hear(text)
    oldest = machine.held()
    for _ in range(5):
        machine.hear(text)
    assert machine.held() == oldest
    assert len(oldest) == 3
    assert machine.outcomes() == {Outcome.UNTIMED: 5}
    # At the first, the second and the fourth of them, so that a flood of them is no flood of lines.
    said = [line for line in caplog.messages if "are refused" in line]
    assert [f" {count} by now" in line for count, line in zip((1, 2, 4), said, strict=True)] == [True] * 3
    with journal.read() as conn:
        assert "Set the clock" in full(conn, 256)


def test_what_waits_is_told_as_soon_as_the_largest_message_that_is_allowed_would_be_refused(
    journal: Journal, site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A topic has 65,535 bytes at most (MQTT 5.0, 1.5.4)."""
    machine = Machine(journal, site, 0)
    machine.hear(UNDATED % 27.1)
    waiting_bytes = len(UNDATED % 27.1) + len(MEASURE)
    monkeypatch.setattr(held, "MOST_HELD_BYTES", waiting_bytes + 65_535 + 1_000_000)
    with journal.read() as conn:
        assert [bool(full(conn, largest)) for largest in (256, 1_000_000, 1_000_001, 16_777_216)] == [0, 0, 1, 1]
        largest = HeldMessage(0, "t" * 65_535, bytes(1_000_001), False, "", 0)
        assert not held.load(conn).room_for(largest)


def test_many_bytes_that_wait_are_dated_in_several_goes(
    journal: Journal, site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(held, "BYTES_AT_ONCE", 1)
    machine = Machine(journal, site, 0)
    for minute in range(4):
        machine.up_s += 60
        machine.hear(UNDATED % (27 + minute))
    with journal.read() as conn:
        assert full(conn, 65_536) == ""
        assert len(held.oldest(conn, 0, 10)) == 1
    machine.set_right()
    machine.up_s += 60
    machine.hear(UNDATED % 31.5)
    assert [value for _, value in machine.stored()] == [27, 28, 29, 30, 31.5]
