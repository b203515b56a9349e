"""What the keeper stated, read and checked: what a daemon is built from."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile


@dataclass(frozen=True, slots=True)
class Stated:
    """What the keeper stated, read and checked."""

    folder: Path
    site: Site
    settings: Settings
    profiles: Mapping[str, SpeciesProfile]
