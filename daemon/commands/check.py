"""`clutchwarden check`: every mistake in the site folder and the register at once, or the word that there is none."""

import contextlib
import time
from collections.abc import Sequence

import typer
from rich.console import Console
from rich.text import Text

from config.check import check_site
from config.errors import Mistake
from config.model import Person
from config.places import Places
from config.settings import FILE as SETTINGS
from daemon import backup_folder
from daemon.alarms.limits import Occupant, overlap
from daemon.backups.told import NONE_CONFIGURED
from daemon.clutches.check import register_mistakes
from daemon.clutches.register import clutches
from daemon.commands.site_folder import EXIT_BAD_INPUT, HERE, SiteFolder, SiteOption
from daemon.contacts import address_mistakes
from daemon.duty_check import duty_mistakes
from daemon.environment import foreign_owners
from daemon.mirror.points import Origin
from daemon.mirror_check import mirror_troubles
from daemon.storage import duties, identity
from daemon.storage.journal import Journal, JournalError


def check(site: SiteOption = HERE) -> None:
    """Read everything the keeper stated and say what is wrong with it: file, key, reason and what to do."""
    folder = site.parent if site.name == "site.toml" else site
    checked = check_site(folder)
    found = [Mistake("this installation", "", sentence, "") for sentence in foreign_owners()]
    found += checked.mistakes
    if checked.site is not None and checked.settings is not None:
        whole = SiteFolder(folder, checked.site, checked.settings, dict(checked.profiles), Places(checked.site))
        found += address_mistakes(checked.site, folder)
        found += register_and_limits(whole)
        found += _duties(whole)
        found += _backups(whole)
        found += mirror_troubles(whole.settings.mirror, _origin(whole), time.time_ns() // 1_000_000)
    console = Console(soft_wrap=True)
    for mistake in found:
        console.print(Text(str(mistake), style="red" if mistake.severity == "mistake" else "yellow"))
    wrong = sum(mistake.severity == "mistake" for mistake in found)
    if wrong:
        console.print(Text(f"{wrong} mistake{'s' if wrong > 1 else ''}. The daemon does not start like this."))
        raise typer.Exit(EXIT_BAD_INPUT)
    if checked.site is not None:
        stated = (
            _count(len(checked.site.incubators), "incubator", "incubators"),
            _count(len(Places(checked.site).boxes), "box", "boxes"),
            _count(len(checked.site.probes), "probe", "probes"),
            _people(checked.site.people),
            _count(len(checked.profiles), "species profile", "species profiles"),
        )
        console.print(f"{checked.site.name}: {', '.join(stated)}. No mistakes.")
        if checked.settings is not None and checked.settings.backup.folder is None:
            console.print(Text(NONE_CONFIGURED))


def _duties(site: SiteFolder) -> list[Mistake]:
    """Duties on record that call nobody. A journal that cannot be read is told of with the register."""
    if not site.journal_path.exists():
        return []
    with contextlib.suppress(JournalError), Journal.open(site.journal_path) as journal, journal.read() as conn:
        return list(duty_mistakes(duties.entries(conn), site.site, time.time_ns() // 1_000_000))
    return []


def _origin(site: SiteFolder) -> Origin:
    """Whose points go to a mirror. A journal that cannot be read is told of with the register."""
    if site.settings.mirror.enabled and site.journal_path.exists():
        with contextlib.suppress(JournalError), Journal.open(site.journal_path) as journal, journal.read() as conn:
            return Origin(site.site.name, identity.journal_id(conn))
    return Origin(site.site.name, "")


def _backups(site: SiteFolder) -> list[Mistake]:
    """What is wrong with the folder of backups, where one is stated."""
    folder = site.settings.backup.folder
    if folder is None:
        return []
    seen = backup_folder.look(folder, site.journal_path)
    if seen.trouble:
        hint = seen.hint or f"Mount the share, or prepare the folder once: clutchwarden backup --set-up {folder}"
        return [Mistake(SETTINGS, "backup.folder", seen.trouble, hint, "warning")]
    if seen.is_same_disk:
        reason, hint = "it is on the same disk as the journal", "A disk that dies takes both: name a folder elsewhere."
        return [Mistake(SETTINGS, "backup.folder", reason, hint, "warning")]
    return []


def _people(people: Sequence[Person]) -> str:
    """Count those whom an alarm can reach; whoever has no contact is named apart, since nothing is told to them."""
    reached = sum(bool(each.contacts) for each in people)
    told = _count(reached, "person to tell", "people to tell")
    return told if reached == len(people) else f"{told} and {len(people) - reached} without a contact"


def _count(number: int, one: str, several: str) -> str:
    return f"{number} {one if number == 1 else several}"


def register_and_limits(site: SiteFolder) -> list[Mistake]:
    """What is wrong with the clutches on record: place, species, and neighbours that no temperature suits."""
    if not site.journal_path.exists():
        return []
    try:
        with Journal.open(site.journal_path) as journal, journal.read() as conn:
            lying = clutches(conn)
    except JournalError as error:
        return [Mistake(str(site.journal_path), "", str(error), "")]
    found = list(register_mistakes(lying, site.places.all, site.profiles))
    for incubator in site.site.incubators:
        inside = [
            Occupant(clutch.label, site.profiles[clutch.species_id])
            for clutch in lying
            if clutch.species_id in site.profiles
            and clutch.placements
            and clutch.placements[-1].place in site.places.within(incubator.id)
        ]
        found += [
            Mistake(
                "register",
                incubator.id,
                conflict.reason,
                "Move one of the two to another incubator; until then the widest of the two ranges is watched.",
                "warning",
            )
            for conflict in overlap(inside).conflicts
        ]
    return found
