"""Checks everything that a keeper states for one site, in one go."""

from dataclasses import dataclass
from pathlib import Path

from config.errors import Mistake
from config.settings import Settings, read_settings
from config.site import Site, read_site, read_site_text
from config.species import SpeciesProfile, read_profiles

PROFILES = "profiles"
"""The keeper's own species profiles lie in this folder of the site folder."""


@dataclass(frozen=True, slots=True)
class Checked:
    """The site and the settings where they can be used, the usable profiles, and every mistake and warning."""

    site: Site | None
    settings: Settings | None
    profiles: dict[str, SpeciesProfile]
    mistakes: tuple[Mistake, ...]

    @property
    def usable(self) -> bool:
        """True where the service may start; warnings do not count."""
        return all(mistake.severity == "warning" for mistake in self.mistakes)


def check_site(folder: Path, site_text: str | None = None) -> Checked:
    """Read site, settings and profiles of a site folder and tell everything that is wrong. Never raises for it.

    A `site_text` stands in for what is in site.toml: is it fit to take its place?
    """
    if not folder.is_dir():
        reason = "there is no such folder" if not folder.exists() else "this is a file, and a site is a folder"
        hint = "Give the folder that holds site.toml; a complete example comes with clutchwarden."
        return Checked(None, None, {}, (Mistake(str(folder), "", reason, hint),))
    site, site_mistakes = read_site(folder) if site_text is None else read_site_text(site_text, folder)
    settings, settings_mistakes = read_settings(folder)
    profiles, profile_mistakes = read_profiles(folder / PROFILES)
    return Checked(site, settings, profiles, (*site_mistakes, *settings_mistakes, *profile_mistakes))
