"""A site with readings, events, a clutch and its heat, and an InfluxDB beside it."""

import re
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Self

from config.mirror import MirrorSettings
from config.site import Site
from config.words import Quantity
from daemon.clutches import register
from daemon.commands.site_folder import read_site
from daemon.development.heat_interval import HeatPiece
from daemon.mirror.target import target_of
from daemon.mirror_compare import DayCompared, MirrorCompare
from daemon.mirror_keeper import MirrorKeeper
from daemon.mirror_query import MirrorReader
from daemon.storage import alarm_log, heat, mirror, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.heat import HeatHour
from daemon.storage.journal import Journal
from sensors.reading import ChannelKey, Reading
from tests.support.household import DAY_MS, a_clutch, write_site
from tests.support.influxdb import InfluxDb

BUCKET = "season"
AIR = ChannelKey("north-air/air", "north-air", "air", Quantity.AIR_TEMPERATURE)
HUMIDITY = ChannelKey("north-air/rh", "north-air", "rh", Quantity.RELATIVE_HUMIDITY)
START_MS = 1_790_000_400_000
"""21 September 2026, 14:20 UTC, at the start of ten minutes"""
MINUTE_MS = 60_000
HOUR_MS = 3_600_000
TOKEN = "a-token-that-nobody-may-see"


class Mirrored:
    """The site in `site`, its journal, its mirror in the bucket `season` of an engine."""

    def __init__(self, folder: Path, engine: InfluxDb, name: str = "Test house", **settings: object) -> None:
        self.engine = engine
        engine.query(f'CREATE DATABASE "{BUCKET}"')
        self.folder = write_site(folder / "site", 1883)
        self.site: Site
        self.rename(name)
        with (self.folder / "settings.toml").open("a") as file:
            file.write(f'[mirror]\nurl = "{engine.url}"\nbucket = "{BUCKET}"\ntoken_file = "token"\n')
        (self.folder / "token").write_text(TOKEN)
        whole = read_site(self.folder)
        self.settings: MirrorSettings = whole.settings.mirror.model_copy(update=settings)
        self.journal = Journal.open(whole.journal_path)
        self.target = target_of(self.settings).key

    def rename(self, name: str) -> None:
        """Give the site another name, in its file and from then on."""
        file = self.folder / "site.toml"
        file.write_text(re.sub(r'^name = ".*"', f'name = "{name}"', file.read_text(), count=1, flags=re.MULTILINE))
        self.site = read_site(self.folder).site

    def store(self, first: int, count: int, quality: int = 0) -> None:
        """Store a reading of temperature and of humidity each minute, from the first minute on."""
        times = [START_MS + MINUTE_MS * number for number in range(first, first + count)]
        readings = [
            Reading(key.channel, at_ms, at_ms + 300, base + at_ms // MINUTE_MS % 97 / 7, quality)
            for at_ms in times
            for key, base in ((AIR, 20.0), (HUMIDITY, 60.0))
        ]
        self.append(readings)

    def append(self, readings: list[Reading]) -> None:
        """Store readings."""
        self.journal.write(lambda conn: samples.append(conn, samples.channel_ids(conn, [AIR, HUMIDITY]), readings))

    def event(self, number: int, reason: str = 'too warm, "really"\\') -> None:
        """Write an alarm event down."""
        at_ms = START_MS + number * MINUTE_MS
        event = AlarmEvent(
            at_ms, at_ms + 5, f"temperature-high:{AIR.channel}", f"o{number}", "raised", 31.5, None, reason
        )
        self.journal.write(lambda conn: alarm_log.append_event(conn, event))

    def clutch(self) -> int:
        """Enter a clutch."""
        new = a_clutch(START_MS - DAY_MS)
        return self.journal.write(lambda conn: register.add_clutch(conn, new, "test", START_MS))

    def heat(self, clutch_id: int, hours: int, degree_hours_ch: float) -> None:
        """Store hours of heat from the beginning on."""
        piece = HeatPiece(best_ch=degree_hours_ch, linear_ms=HOUR_MS, covered_ms=HOUR_MS)
        first = START_MS // HOUR_MS * HOUR_MS
        rows = [HeatHour(first + hour * HOUR_MS, piece) for hour in range(hours)]
        self.journal.write(lambda conn: heat.put_hours(conn, clutch_id, rows))

    def keeper(self, now_ms: Callable[[], int] | None = None) -> "Kept":
        """The keeper of the service, which looks without a rest until the block ends."""
        return Kept(MirrorKeeper(self.journal, self.site, self.settings, now_ms or real_ms, 0.0, 0.01))

    def has_all(self) -> bool:
        """True once nothing waits, by the journal."""
        with self.journal.read() as conn:
            waiting = mirror.backlog(conn, self.target)
        return waiting.readings == waiting.events == 0

    def differing(self, since_ms: int = 0) -> list[DayCompared]:
        """The days that differ."""
        with MirrorReader(self.settings) as reader:
            comparing = MirrorCompare(self.journal, reader, self.target)
            days = list(comparing.days(since_ms, lambda _: lambda _: None))
        return [each for each in days if each.difference.to_mend or each.difference.extra]

    def ask(self, query: str) -> list[dict[str, object]]:
        """Every row that the engine gives, by name of the column."""
        with MirrorReader(self.settings) as reader:
            return [dict(zip(each.columns, row, strict=True)) for each in reader.ask(query) for row in each.rows]


class Kept(AbstractContextManager["Kept"]):
    """A keeper that runs within a block."""

    def __init__(self, keeper: MirrorKeeper) -> None:
        self._keeper = keeper

    def __enter__(self) -> Self:
        self._keeper.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._keeper.stop()


def real_ms() -> int:
    return time.time_ns() // 1_000_000
