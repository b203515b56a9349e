"""`clutchwarden access`: accounts from the command line, also beside a running daemon. The host may do everything."""

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from daemon.access.values import Account, Refused, Role, Visitor
from daemon.access.waiting import MOST_TRIES
from daemon.access.welcome import welcome_text
from daemon.access_desk import AccessDesk
from daemon.commands.moments import local_text
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, login_name, read_site
from daemon.storage.audit import HOST

app = typer.Typer(help="Who may sign in to the pages, and as what.", no_args_is_help=True)

NameArgument = Annotated[str, typer.Argument(help="The name of the account.")]
RoleArgument = Annotated[Role, typer.Argument(help="viewer reads; responder also answers and does rounds; keeper all.")]
JsonOption = Annotated[bool, typer.Option("--json", help="For programs.")]


def now_ms() -> int:
    """The present moment, UTC milliseconds since the epoch."""
    return time.time_ns() // 1_000_000


@contextmanager
def desk_of(whole: SiteFolder) -> Iterator[AccessDesk]:
    """The desk of a site folder, on its journal."""
    with whole.journal() as journal:
        yield AccessDesk(journal, whole.site, now_ms)


def at_host(who: str) -> Visitor:
    """Whoever types the command: on the machine itself everything may be done."""
    return Visitor(who or login_name(), Role.KEEPER)


def require(done: Refused | None) -> None:
    """Leave with the sentence where something was refused."""
    if done is not None:
        raise fail(done.reason)


@app.command("list")
def list_accounts(
    everything: Annotated[bool, typer.Option("--all", help="Also the closed ones.")] = False,
    as_json: JsonOption = False,
    site: SiteOption = HERE,
) -> None:
    """List the accounts."""
    whole = read_site(site)
    with desk_of(whole) as desk:
        found = [each for each in desk.accounts() if everything or each.closed_ms is None]
    if as_json:
        print(json.dumps([_as_dict(each) for each in found], indent=2))
        return
    if not found:
        print("No account yet. Make the first one with: clutchwarden access first")
        return
    table = Table("name", "role", "sign-in", "since", box=None, pad_edge=False)
    for each in found:
        table.add_row(Text(each.name), each.role, _sign_in(each, whole), local_text(each.created_ms, whole.zone))
    Console(soft_wrap=True).print(table)


def _sign_in(account: Account, whole: SiteFolder) -> str:
    if account.closed_ms is not None:
        return f"closed since {local_text(account.closed_ms, whole.zone)}"
    if not account.has_password:
        return "invited"
    waits = f", waits until {local_text(account.wait_until_ms, whole.zone)}" if account.wait_until_ms > now_ms() else ""
    if account.failures >= MOST_TRIES:
        waits = f", {account.failures} wrong passwords: a new invitation is needed"
    return f"password{' and second factor' if account.has_second_factor else ''}{waits}"


def _as_dict(account: Account) -> dict[str, object]:
    return {
        "name": account.name,
        "role": account.role,
        "created_ms": account.created_ms,
        "created_by": account.created_by,
        "has_password": account.has_password,
        "has_second_factor": account.has_second_factor,
        "failures": account.failures,
        "wait_until_ms": account.wait_until_ms,
        "closed_ms": account.closed_ms,
    }


@app.command()
def first(who: WhoOption = "", site: SiteOption = HERE) -> None:
    """Make the code for the first account. One that was made before is good no more."""
    whole = read_site(site)
    with desk_of(whole) as desk:
        made = desk.first_code(at_host(who), HOST)
    if isinstance(made, Refused):
        raise fail(made.reason)
    print(welcome_text(made[0], pages_of(whole)))


@app.command()
def invite(
    name: NameArgument,
    role: Annotated[
        Role, typer.Option(help="What a new account may do; one that is in use keeps its role.")
    ] = Role.RESPONDER,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Make a code with which somebody chooses a password: for a new account, or where the password is forgotten."""
    whole = read_site(site)
    with desk_of(whole) as desk:
        made = desk.invite(at_host(who), name, role, HOST)
    if isinstance(made, Refused):
        raise fail(made.reason)
    code, until_ms = made
    print(f"Give {name} this code: {code}")
    print(f"It is good until {local_text(until_ms, whole.zone)}, once, at {pages_of(whole)}welcome")
    print("When it is used, an earlier password and a second factor of this account end, and so do its sessions.")


def pages_of(whole: SiteFolder) -> str:
    """Where the pages are reached, with a slash at the end."""
    web = whole.settings.web
    if web.public_url is not None:
        return f"{web.public_url}/"
    host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(web.host, web.host)  # noqa: S104 - nothing is bound by this
    return f"http{'s' if web.served_by_tls else ''}://{f'[{host}]' if ':' in host else host}:{web.port}/"


@app.command("role")
def set_role(name: NameArgument, role: RoleArgument, who: WhoOption = "", site: SiteOption = HERE) -> None:
    """Let an account do more or less, from its next page on."""
    with desk_of(read_site(site)) as desk:
        require(desk.set_role(at_host(who), name, role, HOST))
    print(f"{name} is {role} now.")


@app.command()
def close(name: NameArgument, who: WhoOption = "", site: SiteOption = HERE) -> None:
    """Keep somebody out from now on. What they did stays on record."""
    with desk_of(read_site(site)) as desk:
        require(desk.close(at_host(who), name, HOST))
    print(f"{name} is closed, and signed out everywhere. Keys and invitations that {name} made are withdrawn.")
