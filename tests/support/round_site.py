"""A house with many boxes for rounds: its folder, its clutches, and its daemon as a process of its own."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from daemon.clutches.register import NewClutch, add_clutch
from daemon.commands.round_site import desk_of
from daemon.commands.site_folder import read_site
from daemon.round_desk import RoundDesk
from daemon.storage.journal import Journal
from tests.support.accounts import make_account
from tests.support.household import DAY_MS, House, a_clutch, now_ms, write_site
from tests.support.journals import new_journal
from tests.support.processes import free_port, wait_until

BOXES = 20
VENOMOUS_BOX = "north/upper/N3"


def boxes(count: int = BOXES) -> str:
    """More boxes for the shelf that the house has."""
    return "".join(f'[[incubator.zone.box]]\nid = "N{number}"\n' for number in range(2, count + 1))


def label_of(number: int) -> str:
    """What the clutch in a box is called."""
    return f"Clutch {number:02}"


def key_of(number: int) -> str:
    """The key of a box."""
    return f"north/upper/N{number}"


def clutch_in(number: int, *, venomous: bool = False) -> NewClutch:
    """Eight eggs in one of the boxes."""
    new = a_clutch(now_ms() - 10 * DAY_MS, label_of(number), key_of(number))
    return replace(new, venomous=True) if venomous else new


class RoundHouse(House):
    """The house with a clutch in each of its boxes; its keeper is ana."""

    def __init__(self, folder: Path, count: int = BOXES, venomous: tuple[int, ...] = (), broker: int = 0) -> None:
        write_site(folder, broker or free_port())
        site = folder / "site.toml"
        text = site.read_text(encoding="utf-8")
        first = '[[incubator.zone.box]]\nid = "N1"\n'
        site.write_text(text.replace(first, first + boxes(count)), encoding="utf-8")
        super().__init__(folder)
        with self.access() as desk:
            make_account(desk)
        with new_journal(self.journal_path) as journal:
            for number in range(1, count + 1):
                clutch = clutch_in(number, venomous=number in venomous)
                journal.write(lambda conn, new=clutch: add_clutch(conn, new, "test", now_ms()))  # type: ignore[misc]

    def open(self) -> None:
        """Start the daemon and wait for its pages."""
        before = self.service.output().count("Pages:")
        self.service.start()
        wait_until(lambda: self.service.output().count("Pages:") > before or not self.service.running, "the pages", 180)
        assert self.service.running, self.service.output()

    def desk(self, journal: Journal) -> RoundDesk:
        """The desk for its rounds, as a command beside the daemon has it."""
        return desk_of(read_site(self.folder), journal)

    def rows(self, sql: str) -> list[tuple[object, ...]]:
        """What stands in its journal."""
        with self.look() as conn:
            return conn.execute(sql).fetchall()


@contextmanager
def open_house(folder: Path, count: int = BOXES, venomous: tuple[int, ...] = ()) -> Iterator[RoundHouse]:
    """A house whose daemon runs until the end."""
    made = RoundHouse(folder / "site", count, venomous)
    made.open()
    try:
        yield made
    finally:
        made.service.stop()
