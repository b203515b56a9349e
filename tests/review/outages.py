"""A house with two boxes that have probes of their own and one that has none, read for eight days in a journal."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from config.species import ExposureLimit
from daemon.clutches import register
from daemon.review.clutch import ClutchReview
from daemon.review.gap_values import HeatOff
from daemon.review.values import Span
from daemon.review_clutches import ClutchReviews
from daemon.review_records import PlaceRecords
from daemon.storage import samples
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels
from sensors.reading import Reading
from tests.daemon.evaluated import House, evaluator, house_of
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site

HOUR_MS = 3_600_000
START_MS = 1_780_002_000_000
"""On the hour: 2026-05-28 21:00 UTC."""
OUTAGE_MS = START_MS + 8 * DAY_MS
STEP_MS = 10 * MINUTE_MS
BRIDGE_MS = 1_800_000
BOXES = ("north/upper/N1", "north/upper/N2", "north/upper/N3")
SHELF = "north/upper"
MORE = """
[[incubator.zone.box]]
id = "N2"
[[incubator.zone.box]]
id = "N3"
"""
PROBE = """
[[probe]]
id = "{id}"
place = "north/upper/{box}"
interval_s = 600
[[probe.channel]]
name = "air"
quantity = "air_temperature"
[[probe.channel]]
name = "rh"
quantity = "relative_humidity"
"""
Course = Callable[[float], float | None]
"""A value at so many hours from the beginning of the outage; None for no reading."""


def house(folder: Path) -> House:
    """The household with two more boxes; N1 and N2 have probes of their own."""
    site = write_site(folder, 1883, extra=PROBE.format(id="one", box="N1") + PROBE.format(id="two", box="N2"))
    text = (site / "site.toml").read_text(encoding="utf-8")
    first = '[[incubator.zone.box]]\nid = "N1"\n'
    (site / "site.toml").write_text(text.replace(first, first + MORE), encoding="utf-8")
    return bounded(house_of(site))


PAPER = "a paper of these tests"
HEAT = ExposureLimit(above_c=31.0, minutes=180.0, within_h=24, source=PAPER)
COLD = ExposureLimit(below_c=20.0, minutes=180.0, within_h=24, source=PAPER)


def bounded(house_: House) -> House:
    """The same with one more species: the ratsnake, as if somebody had published what it stands."""
    snake = house_.profiles["elaphe-taeniura"]
    known = snake.model_copy(update={"id": "bounded", "exposure": (HEAT, COLD)})
    return replace(house_, profiles={**house_.profiles, "bounded": known})


def usual(hours: float) -> float:
    """28 °C all along."""
    return 28.0 + 0.0 * hours


def cold_from_0_to_10(hours: float) -> float:
    """18 °C from the first to the last moment of ten hours, 28 °C else."""
    return 18.0 if 0 <= hours <= 10 else usual(hours)


class Outage:
    """A journal of the house, its evaluation, and what happened to its clutches."""

    def __init__(self, house_: House, journal: Journal) -> None:
        self.house, self.journal = house_, journal
        self.heat_off: tuple[HeatOff, ...] = ()
        self.ids = journal.write(lambda conn: samples.channel_ids(conn, house_.channels.values()))

    def enter(self, label: str, place: str, set_up_ms: int = START_MS, species: str = "elaphe-taeniura") -> int:
        """Enter a clutch."""
        new = replace(a_clutch(set_up_ms, label, place), species_id=species)
        return self.journal.write(lambda conn: register.add_clutch(conn, new, "test", OUTAGE_MS + DAY_MS))

    def move(self, clutch_id: int, place: str, at_ms: int) -> None:
        """Move a clutch."""
        self.journal.write(
            lambda conn: register.move_clutch(conn, clutch_id, place, at_ms, "test", "", OUTAGE_MS + DAY_MS)
        )

    def close(self, clutch_id: int, at_ms: int) -> None:
        """Close a clutch."""
        self.journal.write(lambda conn: register.close_clutch(conn, clutch_id, at_ms, "test", "", OUTAGE_MS + DAY_MS))

    def read(self, courses: Mapping[str, Course], until_h: float = 12.0) -> None:
        """Store what these channels read from the beginning of all on, and evaluate it."""
        rows = [
            Reading(channel, at_ms, at_ms, value, 0)
            for at_ms in range(START_MS, OUTAGE_MS + round(until_h * HOUR_MS) + 1, STEP_MS)
            for channel, course in courses.items()
            if (value := course((at_ms - OUTAGE_MS) / HOUR_MS)) is not None
        ]
        self.journal.write(lambda conn: samples.append(conn, self.ids, rows))
        present = evaluator(self.house, self.journal)
        while present.step(lambda: OUTAGE_MS + round(until_h * HOUR_MS))[0]:
            pass

    def reviews(self, from_h: float = 0.0, to_h: float | None = 10.0, now_h: float = 12.0) -> dict[str, ClutchReview]:
        """What the time did to each clutch, by label."""
        to_ms = None if to_h is None else OUTAGE_MS + round(to_h * HOUR_MS)
        with self.journal.read() as conn:
            air = AirChannels(self.house.site)
            air.load(conn)
            records = PlaceRecords(conn, self.house.site, air, BRIDGE_MS, self.heat_off)
            reader = ClutchReviews(conn, self.house.site, self.house.profiles, air, BRIDGE_MS, records)
            found = reader.of(Span(OUTAGE_MS + round(from_h * HOUR_MS), to_ms), OUTAGE_MS + round(now_h * HOUR_MS))
        return {each.label: each for each in found}
