"""A watch over the test household, fed by minutes after a start: for tests of what it raises and clears."""

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from config.check import check_site
from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarm_transition import Transition
from daemon.alarm_watch import AlarmWatch
from daemon.clutches.register import Clutch, Placement
from daemon.occupancy import Occupancy
from daemon.storage.samples import StoredReading
from sensors.decoder import Decoder
from tests.support.household import DAY_MS, MINUTE_MS, write_site

START_MS = 1_780_000_000_000
AIR, RH = "north-air/air", "north-air/rh"
BOX = """
[[probe]]
id = "box"
place = "north/upper/N1"
[[probe.channel]]
name = "rh"
quantity = "relative_humidity"
"""


def damp(folder: Path, damping_min: float) -> Path:
    """State how the shelf of the test household is damped, minutes; gives the folder."""
    stated = folder / "site.toml"
    text = re.sub(r"^damping_min = .*\n", "", stated.read_text(encoding="utf-8"), flags=re.MULTILINE)
    shelf = 'name = "upper shelf"\n'
    stated.write_text(text.replace(shelf, f"{shelf}damping_min = {damping_min}\n"), encoding="utf-8")
    return folder


class Watched:
    """A watch over the test household, fed by minutes after the start."""

    def __init__(self, folder: Path, damping_min: float = 10) -> None:
        damp(write_site(folder, 1883, extra=BOX), damping_min)
        checked = check_site(folder)
        assert checked.site is not None
        self.site: Site = checked.site
        self.profiles: dict[str, SpeciesProfile] = dict(checked.profiles)
        self.places = Places(self.site)
        self.watch = self.fresh_watch()
        self.clutch = Clutch(
            1, "Juniper", "elaphe-taeniura", None, 0, 0, 8, "", None, (Placement("north/upper/N1", START_MS - DAY_MS),)
        )
        self.occupancy = Occupancy([self.clutch], self.places, self.profiles)
        self.seq = 0

    def fresh_watch(self) -> AlarmWatch:
        """A watch that remembers nothing, as after a start."""
        return AlarmWatch(self.site, self.places, Decoder(self.site).channels, START_MS)

    def close(self, minute: float) -> None:
        closed = replace(self.clutch, closed_at_ms=START_MS + round(minute * MINUTE_MS))
        self.occupancy = Occupancy([closed], self.places, self.profiles)
        self.watch.look_at_all()

    def say(
        self, minute: float, value: float, channel: str = AIR, quality: int = 0, *, received: float | None = None
    ) -> list[Transition]:
        self.seq += 1
        at_ms = START_MS + round(minute * MINUTE_MS)
        received_ms = at_ms if received is None else START_MS + round(received * MINUTE_MS)
        row = StoredReading(self.seq, channel, at_ms, received_ms, value, quality)
        return [*self.watch.reading(row, self.occupancy), *self.watch.settle()]

    def say_both(self, minutes: Iterable[int]) -> list[Transition]:
        return [
            change
            for minute in minutes
            for value, channel in ((28.5, AIR), (70.0, RH))
            for change in self.say(minute, value, channel)
        ]

    def time(self, minute: float) -> list[Transition]:
        return self.watch.time_passed(START_MS + round(minute * MINUTE_MS), self.occupancy)


def told(transitions: list[Transition], *channels: str) -> list[str]:
    """What people are told of these channels; of air where none is named."""
    return [
        f"{one.kind} {one.subject} {one.change}"
        for one in transitions
        if one.told and one.subject in (channels or (AIR,))
    ]
