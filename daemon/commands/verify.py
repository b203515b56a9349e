"""`clutchwarden verify`: is the journal as it was written, and if not, since which day."""

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated

import typer

from daemon.chain_rules import TypedCode, read_code
from daemon.commands.progress import counting
from daemon.commands.site_folder import HERE, SiteOption, fail, read_site
from daemon.verify import verify as look
from daemon.verify_text import verified_dict, verified_text

EXIT_BROKEN = 1


def verify(
    site: SiteOption = HERE,
    since: Annotated[str, typer.Option(help="Leave out what is older than this day (UTC), as 2026-08-03.")] = "",
    head: Annotated[str, typer.Option(help="Look for this code of an earlier digest, test or review.")] = "",
    journal: Annotated[
        Path | None, typer.Option(help="Look at this file, as a backup, in place of the site's journal.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Say whether the journal is as it was written, and if not, since which day.

    Events, readings and photos are looked at. Nothing is changed, and the service may go on meanwhile. Exit code 1:
    something is not as it was.
    """
    day, code = _day(since), _code(head)
    path = read_site(site).journal_path if journal is None else journal
    with counting("Verifying") as started:
        found = look(path, day, code, started)
    print(json.dumps(verified_dict(found), indent=2) if as_json else verified_text(found))
    if found.faults:
        raise typer.Exit(EXIT_BROKEN)


def _day(typed: str) -> date | None:
    if not typed:
        return None
    try:
        day = date.fromisoformat(typed.strip())
    except ValueError:
        raise fail(f"--since {typed!r} is no day. Write it as 2026-08-03.") from None
    if day > datetime.now(UTC).date():
        raise fail(f"--since {typed} lies ahead, so there is nothing to look at. Name a day that has begun.")
    return day


def _code(typed: str) -> TypedCode | None:
    if not typed:
        return None
    code = read_code(typed)
    if code is None:
        raise fail(f"--head {typed!r} is no code of a link. It looks like 18204-7K0Q-M2XW-D9R4-TABC.")
    return code
