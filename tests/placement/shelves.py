"""Two incubators whose shelves were at temperatures that are known exactly, with clutches on them."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from config.check import check_site
from daemon.clutches import register
from daemon.clutches.values import NewClutch
from daemon.placement_desk import PlacementDesk
from daemon.rollups import RollUps
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal

HOUR_MS = 60 * MINUTE_MS
NOW_MS = 1_777_896_000_000 // DAY_MS * DAY_MS + 12 * HOUR_MS
"""At noon UTC, on a whole stretch of the roll-ups."""
EVERY_MS = 2 * MINUTE_MS
EXTRA = """
[[incubator]]
id = "south"
name = "South <b>cabinet</b>"
[[incubator.zone]]
id = "top"
name = "top shelf"
[[incubator.zone.box]]
id = "S1"
[[incubator.zone.box]]
id = "S2"
[[incubator.zone]]
id = "bottom"
name = "bottom shelf"
[[incubator.zone.box]]
id = "S3"
[[incubator.zone.box]]
id = "S4"
[[incubator.zone]]
id = "dark"
name = "dark shelf"
"""
PROBES = "".join(
    f'[[probe]]\nid = "{name}"\nplace = "{place}"\ninterval_s = 120\n'
    '[[probe.channel]]\nname = "air"\nquantity = "air_temperature"\n'
    for name, place in (("top-air", "south/top"), ("bottom-air", "south/bottom"), ("s4-air", "south/bottom/S4"))
)
Warmth = Callable[[float], float | None]
"""What a probe says so many hours before now; None for nothing."""


class Shelves:
    """The folder of a site, its journal, and the desk that compares its places."""

    def __init__(self, folder: Path, journal: Journal) -> None:
        checked = check_site(folder)
        assert checked.site is not None, checked.mistakes
        self.folder, self.journal, self.site, self.profiles = folder, journal, checked.site, dict(checked.profiles)
        self.channels = Decoder(checked.site).channels
        self.desk = PlacementDesk(journal, checked.site, self.profiles, 1800.0, lambda: NOW_MS)

    def measured(self, probe: str, warmth: Warmth, days: float = 8) -> None:
        """Readings of a probe until now, one in two minutes."""
        key = self.channels[f"{probe}/air"]
        rows = []
        for at_ms in range(round(NOW_MS - days * DAY_MS), NOW_MS, EVERY_MS):
            value = warmth((NOW_MS - at_ms) / HOUR_MS)
            if value is not None:
                rows.append(Reading(key.channel, at_ms, at_ms, value, 0))
        self.journal.write(lambda conn: samples.append(conn, samples.channel_ids(conn, [key]), rows))
        RollUps(self.journal).run()

    def clutch(self, label: str, place: str, species: str = "elaphe-taeniura", **changed: object) -> int:
        """Enter a clutch that was set up ten days ago, and give its number."""
        new: NewClutch = replace(
            a_clutch(NOW_MS - 10 * DAY_MS, label, place),
            species_id=species,
            **changed,  # type: ignore[arg-type]
        )
        return self.journal.write(lambda conn: register.add_clutch(conn, new, "test", NOW_MS))


@contextmanager
def shelves(folder: Path, *, fahrenheit: bool = False) -> Iterator[Shelves]:
    """Make one in a folder of its own: no reading and no clutch yet."""
    site = write_site(folder / "site", 1883, extra="")
    text = (site / "site.toml").read_text(encoding="utf-8").replace("\n[[probe]]", f"{EXTRA}\n[[probe]]", 1) + PROBES
    if fahrenheit:
        text = text.replace('time_zone = "Europe/Madrid"', 'time_zone = "Europe/Madrid"\ntemperature_unit = "F"')
    (site / "site.toml").write_text(text, encoding="utf-8")
    with new_journal(site / "data" / "journal.sqlite3") as journal:
        yield Shelves(site, journal)
