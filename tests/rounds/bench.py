"""A site with three cabinets and a desk for rounds, by a clock that the test sets."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from uuid import UUID

from config.check import check_site
from daemon.clutches import register
from daemon.clutches.eggs import EggState, Reason, Stated
from daemon.clutches.register import NewClutch
from daemon.desk_work import DeskWork
from daemon.round_desk import RoundDesk, Started
from daemon.rounds.values import EggsSeen, Entry, Refused, Stored
from daemon.storage.journal import Journal
from tests.support.household import MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal

START_MS = 1_780_000_000_000
HOUR_MS, DAY_MS = 60 * MINUTE_MS, 24 * 60 * MINUTE_MS
N1, S1, S2 = "north/upper/N1", "south/low/S1", "south/low/S2"
MORE = """
[[incubator]]
id = "south"
name = "South cabinet"
room_temperature_c = 20
temperature_factor = 0.8
[[incubator.zone]]
id = "low"
name = "low shelf"
[[incubator.zone.box]]
id = "S1"
[[incubator.zone.box]]
id = "S2"
name = "the blue box"
[[incubator.zone]]
id = "deep"
name = "deep shelf"

[[probe]]
id = "box-s1"
place = "south/low/S1"
interval_s = 60
[[probe.channel]]
name = "air"
quantity = "air_temperature"
[[probe.channel]]
name = "rh"
quantity = "relative_humidity"

[[incubator]]
id = "third"
name = "Third cabinet"
[[incubator.zone]]
id = "mid"
name = "middle shelf"
[[incubator.zone.box]]
id = "T1"
"""
MOULD = Stated(EggState.REMOVED, Reason.MOULD)
WATCH = Stated(EggState.WATCH)


def uuid(number: int) -> str:
    """An id as a browser makes them, the same for the same number."""
    return str(UUID(int=number, version=4))


def entry(number: int, box: str = N1, who: str = "ana", **more: object) -> Entry:
    """An entry that says all is well where nothing else is stated."""
    whole = more or {"all_well": True}
    return Entry(entry_id=uuid(number), box=box, who=who, **whole)  # type: ignore[arg-type]


def eggs(stated: Stated, *which: str) -> EggsSeen:
    """Eggs with these marks or numbers."""
    return EggsSeen(stated, which)


class Bench:
    """The site in a folder, its journal, and the desk. `now_ms` is the clock."""

    def __init__(self, folder: Path, journal: Journal | None = None) -> None:
        self.folder = write_site(folder, 1883, "http://127.0.0.1:9/phone", MORE)
        checked = check_site(self.folder)
        assert checked.site is not None
        self.site, self.profiles = checked.site, dict(checked.profiles)
        self.journal = journal or new_journal(self.folder / "data" / "journal.sqlite3")
        self.now_ms = START_MS
        self.desk = self.new_desk()

    def new_desk(self) -> RoundDesk:
        """A desk that has kept nothing yet."""
        work = DeskWork(self.site, self.profiles)
        return RoundDesk(self.journal, self.site, self.profiles, work, 1800, lambda: self.now_ms)

    def clutch(self, label: str = "Juniper", place: str = N1, days_ago: float = 20, **more: object) -> int:
        """A clutch of eight eggs that came so many days ago."""
        new = replace(a_clutch(START_MS - round(days_ago * DAY_MS), label, place), **more)  # type: ignore[arg-type]
        return self.enter_clutch(new)

    def enter_clutch(self, new: NewClutch) -> int:
        return self.journal.write(lambda conn: register.add_clutch(conn, new, "ana", self.now_ms))

    def start(self, *incubators: str, who: str = "ana") -> int:
        """Start rounds; gives the number of the first."""
        started = self.desk.start(who, incubators or ("north",))
        assert isinstance(started, Started), started
        return started.rounds[0].number

    def enter(self, round_number: int, one: Entry, *, queued: bool = False) -> Stored:
        done = self.desk.enter(round_number, one, queued=queued)
        assert isinstance(done, Stored), done
        return done

    def refused(self, round_number: int, one: Entry, *, queued: bool = False) -> Refused:
        done = self.desk.enter(round_number, one, queued=queued)
        assert isinstance(done, Refused), done
        return done

    def rows(self, sql: str) -> Sequence[tuple[object, ...]]:
        with self.journal.read() as conn:
            return conn.execute(sql).fetchall()
