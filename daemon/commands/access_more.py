"""`clutchwarden access sessions|end|key|audit`: who is signed in, the keys of programs, and what was changed."""

import json
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from daemon.access.values import Refused, Role
from daemon.commands.access import JsonOption, app, at_host, desk_of, require
from daemon.commands.moments import local_text
from daemon.commands.site_folder import HERE, SiteOption, WhoOption, fail, read_site
from daemon.storage import audit
from daemon.storage.audit import HOST

__all__ = ["app"]

key_app = typer.Typer(help="Keys of programs that ask for the pages' data.", no_args_is_help=True)
app.add_typer(key_app, name="key")

KeyArgument = Annotated[str, typer.Argument(help="A name for the program; it stands in the journal.")]


@app.command("sessions")
def list_sessions(as_json: JsonOption = False, site: SiteOption = HERE) -> None:
    """List the browsers that are signed in."""
    whole = read_site(site)
    with desk_of(whole) as desk:
        found = desk.all_sessions()
    if as_json:
        keys = ("number", "account", "begun_ms", "seen_ms", "until_ms", "address", "device")
        print(json.dumps([{key: getattr(each, key) for key in keys} for each in found], indent=2, ensure_ascii=False))
        return
    if not found:
        print("Nobody is signed in.")
        return
    table = Table("number", "account", "last seen", "from", "device", "ends", box=None, pad_edge=False)
    for each in found:
        seen, ends = local_text(each.seen_ms, whole.zone), local_text(each.until_ms, whole.zone)
        table.add_row(str(each.number), Text(each.account), seen, Text(each.address), Text(each.device), ends)
    Console(soft_wrap=True).print(table)


@app.command("end")
def end_session(
    number: Annotated[int, typer.Argument(help="The number of the session, as `access sessions` shows it.")],
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Sign a browser out."""
    with desk_of(read_site(site)) as desk:
        require(desk.end_any_session(at_host(who), number, HOST))
    print(f"Session {number} has ended.")


@key_app.command("add")
def add_key(
    name: KeyArgument,
    role: Annotated[Role, typer.Option(help="What the program may do.")] = Role.VIEWER,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Make a key and show it, this once."""
    with desk_of(read_site(site)) as desk:
        made = desk.add_key(at_host(who), name, role, HOST)
    if isinstance(made, Refused):
        raise fail(made.reason)
    print(made)
    typer.echo(f"The program sends it as: Authorization: Bearer KEY. It is {role}, and is not shown again.", err=True)


@key_app.command("list")
def list_keys(as_json: JsonOption = False, site: SiteOption = HERE) -> None:
    """List the keys that are in use; never the keys themselves."""
    whole = read_site(site)
    with desk_of(whole) as desk:
        found = desk.keys()
    if as_json:
        keys = ("name", "role", "made_ms", "made_by", "seen_ms")
        print(json.dumps([{key: getattr(each, key) for key in keys} for each in found], indent=2))
        return
    if not found:
        print("No key is in use.")
        return
    table = Table("name", "role", "made", "last used", box=None, pad_edge=False)
    for each in found:
        used = "never" if each.seen_ms is None else local_text(each.seen_ms, whole.zone)
        table.add_row(Text(each.name), each.role, local_text(each.made_ms, whole.zone), used)
    Console(soft_wrap=True).print(table)


@key_app.command("withdraw")
def withdraw_key(name: KeyArgument, who: WhoOption = "", site: SiteOption = HERE) -> None:
    """End a key: the program that has it is kept out from now on."""
    with desk_of(read_site(site)) as desk:
        require(desk.withdraw_key(at_host(who), name, HOST))
    print(f"The key {name} is good no more.")


@app.command("audit")
def show_audit(
    about: Annotated[str, typer.Option(help="Of one account, key or file alone.")] = "",
    limit: Annotated[int, typer.Option(min=1, max=10_000, help="So many of the newest.")] = 50,
    as_json: JsonOption = False,
    site: SiteOption = HERE,
) -> None:
    """Show who changed what, signed in or was refused, newest first."""
    whole = read_site(site)
    with whole.journal() as journal, journal.read() as conn:
        found = audit.newest(conn, limit, about=about)
    if as_json:
        print(json.dumps([_as_dict(each) for each in found], indent=2, ensure_ascii=False))
        return
    if not found:
        print("Nothing on record.")
        return
    table = Table("when", "who", "from", "what", "about", "details", box=None, pad_edge=False)
    for each in found:
        change = each.change
        texts = (change.who, change.from_where, change.what, change.about, details_of(change))
        table.add_row(local_text(each.at_ms, whole.zone), *(Text(text) for text in texts))
    Console(soft_wrap=True).print(table)


def details_of(change: audit.Change) -> str:
    """What was before, what is now, and why, in one line."""
    parts = [f"{key} {value}" for key, value in change.new.items() if not key.endswith("_ms")]
    before = [f"{key} was {value}" for key, value in change.old.items()]
    return "; ".join([*parts, *before, *([change.why] if change.why else [])])


def _as_dict(event: audit.AuditEvent) -> dict[str, object]:
    change = event.change
    return {
        "number": event.event_id,
        "at_ms": event.at_ms,
        "who": change.who,
        "from": change.from_where,
        "what": change.what,
        "about": change.about,
        "old": dict(change.old),
        "new": dict(change.new),
        "why": change.why,
    }
