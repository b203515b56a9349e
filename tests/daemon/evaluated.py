"""A site that is evaluated over a real journal."""

from dataclasses import dataclass
from pathlib import Path

from config.check import check_site
from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from daemon.evaluate import Evaluator
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import ChannelKey
from tests.support.household import MINUTE_MS

START_MS = 1_780_000_000_000
AIR = "north-air/air"
HOUR_MS = 60 * MINUTE_MS


@dataclass(frozen=True, repr=False)
class House:
    site: Site
    settings: Settings
    profiles: dict[str, SpeciesProfile]
    channels: dict[str, ChannelKey]

    def __repr__(self) -> str:
        return "House()"


def house_of(folder: Path) -> House:
    checked = check_site(folder)
    assert checked.site is not None
    assert checked.settings is not None
    return House(checked.site, checked.settings, dict(checked.profiles), dict(Decoder(checked.site).channels))


def evaluator(house: House, journal: Journal) -> Evaluator:
    return Evaluator(journal, house.site, house.settings, house.profiles, house.channels, START_MS)
