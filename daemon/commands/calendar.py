"""`clutchwarden calendar`: addresses at which a calendar program reads what is due, also beside a running daemon."""

import json
from dataclasses import asdict
from typing import Annotated

import typer

from daemon.access.values import Refused
from daemon.calendar_feed_desk import FeedDesk, path_of
from daemon.commands.access import at_host, now_ms, pages_of
from daemon.commands.moments import local_text
from daemon.commands.site_folder import HERE, SiteOption, WhoOption, fail, read_site
from daemon.storage.audit import HOST

app = typer.Typer(help="Addresses for calendar programs: hatching, rounds, calibrations, duty.", no_args_is_help=True)

NameArgument = Annotated[str, typer.Argument(help="A name for the address, such as phone-of-ana.")]


@app.command()
def address(name: NameArgument, who: WhoOption = "", site: SiteOption = HERE) -> None:
    """Make an address, and show it this once. Whoever has it may read the calendar without signing in."""
    whole = read_site(site)
    with whole.journal() as journal:
        made = FeedDesk(journal, whole.site, now_ms).make(at_host(who), name, HOST)
    if isinstance(made, Refused):
        raise fail(made.reason)
    print(f"{pages_of(whole).rstrip('/')}{path_of(made)}")
    print("It is not shown again. In the calendar program: subscribe to it, as a calendar from the network.")
    print("Whoever has it may read the calendar: treat it like a password. It names clutches, species and people.")
    print(f"To take it back: clutchwarden calendar revoke {name}")
    if whole.settings.web.public_url is None:
        print("Other machines reach the pages only where settings.toml says so: see public_url in the README.")


@app.command("list")
def list_feeds(
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False, site: SiteOption = HERE
) -> None:
    """List the addresses that are in use, by name; the addresses themselves are not kept."""
    whole = read_site(site)
    with whole.journal() as journal:
        found = FeedDesk(journal, whole.site, now_ms).in_use()
    if as_json:
        print(json.dumps([asdict(each) for each in found], indent=2))
        return
    if not found:
        print("No calendar address. Make one with: clutchwarden calendar address NAME")
    for each in found:
        made = f"made {local_text(each.made_ms, whole.zone)} by {each.made_by}"
        seen = "never read" if each.seen_ms is None else f"last read {local_text(each.seen_ms, whole.zone)}"
        print(f"{each.name}: {made}, {seen}")


@app.command()
def revoke(name: NameArgument, who: WhoOption = "", site: SiteOption = HERE) -> None:
    """Take an address back: whoever has it reads nothing from now on."""
    whole = read_site(site)
    with whole.journal() as journal:
        refused = FeedDesk(journal, whole.site, now_ms).withdraw(at_host(who), name, HOST)
    if refused is not None:
        raise fail(refused.reason)
    print(f"The calendar address {name} is good no more.")
