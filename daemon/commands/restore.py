"""`clutchwarden restore`: a site folder out of a backup, proven, and what to do with it next."""

import tomllib
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from config.kept_settings import files_named
from config.secret_file import is_credential
from config.settings import FILE as SETTINGS
from daemon import backup_check, backup_restore
from daemon.backup_contents import Contents, read_contents
from daemon.backup_maker import SITE
from daemon.backup_restore import Restored
from daemon.backups.errors import BackupError
from daemon.commands.backup import ended, stated_folder
from daemon.commands.backup_progress import with_bar
from daemon.commands.site_folder import HERE, SiteOption

_MOST_NAMED = 12


def restore(
    which: Annotated[str, typer.Argument(help="Its name as backup list shows it, or the path of its folder.")],
    to: Annotated[Path, typer.Option("--to", help="A folder that is not there yet: the restored site folder.")],
    site: SiteOption = HERE,
) -> None:
    """Restore a backup into a new folder, and prove what came out. Nothing is ever overwritten."""
    try:
        place = backup_check.place_of(which, stated_folder(site))
        with with_bar() as task:
            done = backup_restore.restore(place, to.expanduser(), task)
    except BackupError as error:
        raise ended(error) from error
    contents = read_contents(done.journal)
    _say(done, contents, _zone_of(done.folder))


def _say(done: Restored, contents: Contents, zone: tzinfo) -> None:
    made = _moment(done.manifest.made_ms, zone)
    print(f"{done.folder} is restored from the backup of {made} ({done.manifest.site}), and proven: every page, every")
    print("reference and every count is as it was.")
    newest = "none" if contents.newest_reading_ms is None else _moment(contents.newest_reading_ms, zone)
    print(f"Readings: {contents.readings:,}, the newest of {newest}. What came after that is not in it.")
    names = ", ".join(contents.open_clutches[:_MOST_NAMED])
    more = len(contents.open_clutches) - _MOST_NAMED
    named = f" ({names}{f', and {more} more' if more > 0 else ''})" if names else ""
    print(f"Clutches: {len(contents.open_clutches)} open{named}, {contents.closed_clutches} closed.")
    print(f"Photos: {contents.photos}.")
    for warning in (*done.warnings, *([f"{done.lost}."] if done.lost else [])):
        print(f"Warning: {warning}")
    print("What to do next:")
    for number, step in enumerate(_steps(done), 1):
        print(f"{number}. {step}")


def _steps(done: Restored) -> list[str]:
    steps = ["End the service that used the old journal, if it still runs: two of them would send every alert twice."]
    secrets = dict.fromkeys(name for file in (SITE, SETTINGS) for name in files_named(_text(done.folder / file)))
    missing = [name for name in secrets if not (is_credential(name) or (done.folder / name).exists())]
    if missing:
        steps.append(f"Passwords and addresses are in no backup. Put back: {', '.join(missing)}.")
    handed_over = [name for name in secrets if is_credential(name)]
    if handed_over:
        steps.append(f"See that the service still gets its credentials (LoadCredential=): {', '.join(handed_over)}.")
    if "(address hidden)" in _text(done.folder / SITE):
        steps.append(
            'site.toml has "(address hidden)" where an address was: write it again, best into a file (url_file).'
        )
    if not (done.folder / SITE).exists():
        steps.append("The backup has no site.toml: put your own copy of it back.")
    steps.append(f"clutchwarden check {done.folder}")
    steps.append(f"clutchwarden run {done.folder}")
    return steps


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except OSError:
        return ""


def _zone_of(folder: Path) -> tzinfo:
    """The zone of the site. Its file may lack addresses, so it is no site that could be loaded."""
    try:
        return ZoneInfo(str(tomllib.loads(_text(folder / SITE))["site"]["time_zone"]))
    except (ValueError, KeyError, TypeError):
        return UTC


def _moment(moment_ms: int, zone: tzinfo) -> str:
    return f"{datetime.fromtimestamp(moment_ms / 1000, UTC).astimezone(zone):%Y-%m-%d %H:%M %Z}"
