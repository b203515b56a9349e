"""`clutchwarden rebuild`: roll-ups and heat worked out anew from the readings, and compared with what is stored."""

from typing import Annotated

import typer

from daemon.backups.errors import BackupError
from daemon.clutches import register
from daemon.commands.backup import EXIT_NOT_WHOLE, ended
from daemon.commands.backup_progress import with_bar
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, fail, read_site
from daemon.only_one import only_one
from daemon.rebuilding import Rebuilt, put_right, rebuild
from daemon.storage.journal import Journal

_WHY_HEAT = (
    "Hours of heat keep what the probes of their time have measured: where a probe was moved, added or renamed in "
    "site.toml since, a difference is right, and putting it right would apply the present probes to the past."
)


def rebuild_(
    site: SiteOption = HERE,
    write: Annotated[
        bool, typer.Option("--write", help="Put right what differs. The service has to be ended for it.")
    ] = False,
) -> None:
    """Work out roll-ups and heat anew from the readings, and say what differs from what is stored."""
    whole = read_site(site)
    if not whole.journal_path.exists():
        raise fail(f"There is no journal yet at {whole.journal_path}.")
    try:
        with whole.journal() as journal:
            if not write:
                raise typer.Exit(0 if _look(whole, journal) is None else EXIT_NOT_WHOLE)
            with only_one(whole.journal_path):
                different = _look(whole, journal)
                if different is not None:
                    put_right(journal, different)
                    print("It is put right; heat is computed anew when the service starts.")
    except BackupError as error:
        raise ended(error) from error


def _look(site: SiteFolder, journal: Journal) -> list[int] | None:
    """Compare and say so; gives the clutches whose heat differs, and None where nothing differs at all."""
    bridge_ms = int(site.settings.heat.longest_bridge_s * 1000)
    with with_bar() as task:
        found = rebuild(journal, site.site, site.profiles, bridge_ms, task)
    with journal.read() as conn:
        labels = {each.clutch_id: each.label for each in register.clutches(conn, include_closed=True)}
    return _said(found, labels)


def _said(found: Rebuilt, labels: dict[int, str]) -> list[int] | None:
    print(f"Roll-ups: {found.rollups.stored:,} rows, {found.rollups.different:,} differ.")
    wrong = [number for number, each in found.heat.items() if each.different]
    hours = sum(each.stored for each in found.heat.values())
    print(f"Heat: {hours:,} hours of {len(found.heat)} clutches, {len(wrong)} clutches differ.")
    for number in wrong:
        each = found.heat[number]
        print(f"  {labels.get(number, f'clutch {number}')}: {each.different:,} of {each.stored:,} hours.")
    if wrong:
        print(_WHY_HEAT)
    return wrong if wrong or found.rollups.different else None
