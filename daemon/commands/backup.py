"""`clutchwarden backup`: make one now, show them, check one, and set up the folder that they go to."""

import json
import time
from datetime import UTC, datetime, tzinfo
from importlib.metadata import version
from pathlib import Path
from typing import Annotated

import typer

from daemon import backup_check, backup_folder, backup_maker
from daemon.backup_folder import Listed
from daemon.backup_keeper import record_failure, record_made, thin_out
from daemon.backup_maker import Source
from daemon.backups.errors import BackupError
from daemon.commands.backup_progress import with_bar
from daemon.commands.site_folder import EXIT_BAD_INPUT, HERE, SiteFolder, SiteOption, fail, read_site
from daemon.standing.machine import bytes_text
from daemon.storage import backups
from daemon.storage.journal import JournalError

EXIT_NOT_WHOLE = 1
"""What was asked for is right, and it did not work: no backup was made, or one is damaged."""
NO_FOLDER = (
    'No backup folder is stated. Write into settings.toml: [backup] and folder = "/mnt/backups/eggs", best on another '
    "disk or a mounted share; then run clutchwarden backup --set-up with the same folder."
)

app = typer.Typer(help="Copies of the whole record, made and checked while the service runs.")


@app.callback(invoke_without_command=True)
def backup(
    context: typer.Context,
    site: SiteOption = HERE,
    set_up: Annotated[
        Path | None,
        typer.Option("--set-up", help="Prepare this folder for backups, once, while its disk or share is mounted."),
    ] = None,
) -> None:
    """Make a backup now, and check it. It goes to the folder that settings.toml names."""
    if context.invoked_subcommand is not None:
        return
    try:
        if set_up is None:
            _make(read_site(site))
        else:
            _set_up(set_up, site)
    except BackupError as error:
        raise ended(error) from error


@app.command("list")
def list_(
    site: SiteOption = HERE,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Show the backups in the folder, newest first, and what was tried last."""
    whole = read_site(site)
    folder = _folder_of(whole)
    try:
        found = backup_folder.listed(folder)
    except BackupError as error:
        raise ended(error) from error
    if as_json:
        print(json.dumps([_as_json(each) for each in found], ensure_ascii=False, indent=1))
        return
    for each in found:
        print(_line(each, whole.zone))
    if not found:
        print(f"No backup is in {folder}.")
    _last(whole)


@app.command()
def check(
    which: Annotated[str, typer.Argument(help="Its name as backup list shows it, or the path of its folder.")],
    site: SiteOption = HERE,
) -> None:
    """Read all of a backup, and say whether it is whole."""
    try:
        place = backup_check.place_of(which, stated_folder(site))
        with with_bar() as task:
            found = backup_check.check(place, task)
    except BackupError as error:
        raise ended(error) from error
    for sentence in found.wrong:
        print(f"Damaged: {sentence}.")
    if found.photos_wrong:
        print(f"Photos missing or damaged: {len(found.photos_wrong)}, the first {found.photos_wrong[0]}.")
    if found.wrong or found.photos_wrong:
        raise typer.Exit(EXIT_NOT_WHOLE)
    rows = sum(found.manifest.counts.values())
    size = bytes_text(found.manifest.byte_count)
    print(f"{place.name} is whole: {rows:,} rows in {size}, {found.manifest.photos} photos, as it was written.")


def ended(error: BackupError) -> typer.Exit:
    """Say what is wrong, and give the exit to raise."""
    return fail(str(error), EXIT_BAD_INPUT if error.given else EXIT_NOT_WHOLE)


def stated_folder(site: Path) -> Path | None:
    """Give the backup folder of a site, where there is a site that can be read: on a new machine there is none."""
    from config.settings import read_settings

    folder = site.parent if site.name == "site.toml" else site
    settings = read_settings(folder).settings
    return None if settings is None else settings.backup.folder


def _make(site: SiteFolder) -> None:
    folder, began_ms = _folder_of(site), _now_ms()
    source = Source(site.folder, site.site.name, version("clutchwarden"))
    if not site.journal_path.exists():
        raise fail(f"There is nothing to back up yet: no journal at {site.journal_path}.")
    with site.journal() as journal:
        try:
            with with_bar() as task:
                made = backup_maker.make(journal, source, folder, began_ms, task)
        except BackupError as error:
            record_failure(journal, folder, began_ms, _now_ms(), error)
            raise
        record_made(journal, folder, began_ms, _now_ms(), made)
        removed = thin_out(journal, site.settings.backup, site.zone, made.origin, _now_ms())
    took_s = (_now_ms() - began_ms) / 1000
    rows = sum(made.counts.values())
    print(
        f"{made.name}: {rows:,} rows in {bytes_text(made.byte_count)}, {made.photos} photos, checked, {took_s:.1f} s."
    )
    print(f"It is in {folder}.")
    for warning in made.warnings:
        print(f"Warning: {warning}")
    for name, why in removed:
        print(f"Removed: {name} ({why}).")


def _set_up(folder: Path, site: Path) -> None:
    whole = read_site(site)
    folder = folder.expanduser().absolute()
    new = backup_folder.set_up(folder, whole.site.name)
    print(f"{folder} {'is ready for backups' if new else 'was set up already'}.")
    seen = backup_folder.look(folder, whole.journal_path)
    if seen.trouble:
        raise BackupError("the folder cannot be used", str(folder), seen.trouble, "Mend that, then try again.")
    print(f"Free there: {bytes_text(seen.free_bytes)}.")
    if seen.is_same_disk:
        print("Warning: it is on the same disk as the journal, and a disk that dies takes both.")
    stated = whole.settings.backup.folder
    if stated is None or stated.absolute() != folder:
        print(f'Now write into settings.toml, in a section [backup]: folder = "{folder}"')


def _folder_of(site: SiteFolder) -> Path:
    if site.settings.backup.folder is None:
        raise fail(NO_FOLDER)
    return site.settings.backup.folder


def _line(each: Listed, zone: tzinfo) -> str:
    made = f"{datetime.fromtimestamp(each.made_ms / 1000, UTC).astimezone(zone):%Y-%m-%d %H:%M}"
    if each.problem or each.manifest is None:
        return f"{each.name}  {made}  cannot be used: {each.problem}"
    rows = sum(each.manifest.counts.values())
    return (
        f"{each.name}  {made}  {bytes_text(each.manifest.byte_count)}, {rows:,} rows, version {each.manifest.version}"
    )


def _last(site: SiteFolder) -> None:
    if not site.journal_path.exists():
        return
    try:
        with site.journal() as journal, journal.read() as conn:
            run, test = backups.newest_run(conn), backups.newest_test(conn)
    except JournalError as error:
        print(f"What was tried last is not known: {error}")
        return
    if run is not None and not run.good:
        print(f"The last attempt failed: {run.told}.")
    if test is not None:
        print(f"Restore test of {test.name}: {'good' if test.good else 'FAILED'}. {test.told}")


def _as_json(each: Listed) -> dict[str, object]:
    manifest = each.manifest
    return {
        "name": each.name,
        "made_ms": each.made_ms,
        "problem": each.problem or None,
        "bytes": None if manifest is None else manifest.byte_count,
        "version": None if manifest is None else manifest.version,
        "schema": None if manifest is None else manifest.schema,
        "site": None if manifest is None else manifest.site,
    }


def _now_ms() -> int:
    return time.time_ns() // 1_000_000
