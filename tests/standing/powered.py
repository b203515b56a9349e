"""Two incubators with thermometers and contacts, eggs in one of them, and looks at a real journal."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from config.check import check_site
from config.places import Places
from config.words import AlarmKind
from daemon.clutches import register
from daemon.occupancy import Occupancy
from daemon.standing.found import Found
from daemon.standing_sources.source import Moment, Source
from daemon.storage import samples
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.household import a_clutch
from tests.support.journals import new_journal

START_MS = 1_780_000_000_000
"""2026-05-28 20:26:40 UTC"""
SECOND_MS = 1_000
MINUTE_MS = 60 * SECOND_MS
AIR, BOX, SOUTH, ROOM = "north-air/t", "north-box/t", "south-air/t", "room-air/t"
MAINS, NORTH_MAINS, DOOR, SOUTH_DOOR = "ups/mains", "north-plug/mains", "north-door/door", "south-door/door"
THERMOMETERS = (AIR, BOX, SOUTH, ROOM)
SITE = """\
[site]
name = "Test house"
time_zone = "UTC"
[[incubator]]
id = "north"
name = "North cabinet"
[[incubator.zone]]
id = "upper"
name = "upper shelf"
[[incubator.zone.box]]
id = "N1"
[[incubator]]
id = "south"
name = "South cabinet"
"""
PROBE = """
[[probe]]
id = "{0}"
place = "{1}"
interval_s = {2}
[[probe.channel]]
name = "{3}"
quantity = "{4}"
"""
PROBES = (
    ("north-air", "north/upper", 60, "t", "air_temperature"),
    ("north-box", "north/upper/N1", 60, "t", "air_temperature"),
    ("south-air", "south", 60, "t", "air_temperature"),
    ("room-air", "room", 60, "t", "air_temperature"),
    ("ups", "room", 10, "mains", "mains"),
    ("north-plug", "north", 10, "mains", "mains"),
    ("north-door", "north", 60, "door", "door"),
    ("south-door", "south", 60, "door", "door"),
)


class Powered:
    """A journal with readings as a test gives them, and what a source finds in it."""

    def __init__(self, journal: Journal, folder: Path) -> None:
        checked = check_site(folder)
        assert checked.site is not None
        assert checked.settings is not None
        self.journal, self.site, self.profiles, self.settings = (
            journal,
            checked.site,
            checked.profiles,
            checked.settings,
        )
        self.channels = dict(Decoder(checked.site).channels)
        self.ids = journal.write(lambda conn: samples.channel_ids(conn, self.channels.values()))
        self.on: set[tuple[AlarmKind, str]] = set()

    def eggs(self, place: str = "north/upper/N1", from_ms: int = START_MS) -> int:
        """Set a clutch up."""
        clutch = a_clutch(from_ms, f"Clutch in {place}", place)
        return self.journal.write(lambda conn: register.add_clutch(conn, clutch, "test", from_ms))

    def say(self, channel: str, value: float, start_ms: int, end_ms: int, every_ms: int, quality: int = 0) -> None:
        """One value again and again, from start to end, both included."""
        rows = [Reading(channel, at, at + 40, value, quality) for at in range(start_ms, end_ms + 1, every_ms)]
        self.journal.write(lambda conn: samples.append(conn, self.ids, rows))

    def look(self, source: Source, now_ms: int) -> list[Found]:
        """What a source finds at a moment, and nothing but what it says it may find."""
        with self.journal.read() as conn:
            lying = register.clutches(conn, include_closed=True)
            air = AirChannels(self.site)
            occupancy = Occupancy(lying, Places(self.site), self.profiles)
            is_on: Callable[[AlarmKind, str], bool] = lambda kind, subject: (kind, subject) in self.on  # noqa: E731
            found = list(source.found(Moment(conn, now_ms, occupancy, air, is_on)))
        assert {each.kind for each in found} <= source.kinds
        return found


@contextmanager
def powered(folder: Path, without: frozenset[str] = frozenset(), extra: str = "") -> Iterator[Powered]:
    """Make one in a folder of its own, `without` some of the probes."""
    site = folder / "site"
    site.mkdir(parents=True)
    probes = "".join(PROBE.format(*each) for each in PROBES if each[0] not in without)
    (site / "site.toml").write_text(SITE + probes + extra, encoding="utf-8")
    (site / "settings.toml").write_text("", encoding="utf-8")
    with new_journal(folder / "journal.sqlite3") as journal:
        yield Powered(journal, site)
