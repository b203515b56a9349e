"""The species profiles of a site, where each comes from, and the text of its file to start an own one from."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from config.check import PROFILES
from config.species import BUILT_IN, SpeciesProfile


@dataclass(frozen=True, slots=True)
class SpeciesShelf:
    """`profiles` are those that the service works with, read when it started; `folder` is the site folder."""

    profiles: Mapping[str, SpeciesProfile]
    folder: Path

    def is_own(self, species_id: str) -> bool:
        """Tell whether a profile is the keeper's own, by its file."""
        return species_id in self.profiles and self._own(species_id).is_file()

    def text(self, species_id: str) -> str | None:
        """Give the text of a profile's file; None where there is no such profile, or its file cannot be read."""
        if species_id not in self.profiles:
            return None
        path = self._own(species_id) if self.is_own(species_id) else BUILT_IN / f"{species_id}.toml"
        try:
            return path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError):
            return None

    def _own(self, species_id: str) -> Path:
        return self.folder / PROFILES / f"{species_id}.toml"
