"""`clutchwarden probe enroll` and `dismiss`: which probes may send to the broker, each to its own topics alone.

What they work with is imported late: `clutchwarden probe FILE.toml` comes through here on a small board.
"""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from daemon.commands.site_given import HERE, SiteOption

if TYPE_CHECKING:
    from daemon.enrol import Enrolment

FolderOption = Annotated[
    Path | None,
    typer.Option(
        "--broker-folder", help="Mosquitto's folder with the passwords.", show_default="/etc/mosquitto/clutchwarden"
    ),
]
PidOption = Annotated[
    Path | None,
    typer.Option(
        "--pid-file",
        help="Says which process Mosquitto is, to tell it of a change.",
        show_default="/run/mosquitto/mosquitto.pid",
    ),
]


def enroll(
    name: Annotated[str | None, typer.Argument(help="The id of the probe, as in site.toml.")] = None,
    again: Annotated[bool, typer.Option("--again", help="A new password for one that is enrolled.")] = False,
    listed: Annotated[bool, typer.Option("--list", help="Say who is enrolled, and end.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="With --list: as JSON.")] = False,
    daemon: Annotated[bool, typer.Option("--daemon", help="Make the daemon's own account at Mosquitto.")] = False,
    password_to: Annotated[
        Path | None,
        typer.Option(
            "--password-to", help="With --daemon: the file for its password.", show_default="secrets/broker-password"
        ),
    ] = None,
    host: Annotated[str | None, typer.Option(help="How devices reach the broker: its name or address.")] = None,
    port: Annotated[int | None, typer.Option(min=1, max=65535, help="The broker's port for devices.")] = None,
    site: SiteOption = HERE,
    broker_folder: FolderOption = None,
    pid_file: PidOption = None,
) -> None:
    """Let a probe send to the broker: make its password, enter it there, and say what to put on the device."""
    from daemon.enrol_text import whole

    desk = _desk(site, broker_folder, pid_file)
    if listed:
        _list(desk, as_json=as_json)
    elif daemon:
        _daemon(desk, password_to, again=again)
    elif name is None:
        print(
            "Name the probe, as in: clutchwarden probe enroll north-air. --list says who is enrolled.", file=sys.stderr
        )
        raise typer.Exit(2)
    else:
        door = desk.door(host, port)
        credentials = desk.enrol(name, again=again)
        print(whole(desk.probe(name), door, credentials))
        print(f"\n{desk.tell_broker()}")


def dismiss(
    name: Annotated[str, typer.Argument(help="The id of the probe.")],
    site: SiteOption = HERE,
    broker_folder: FolderOption = None,
    pid_file: PidOption = None,
) -> None:
    """Take a probe's account away: what it sends from now on is refused. Its readings stay."""
    desk = _desk(site, broker_folder, pid_file)
    desk.dismiss(name)
    print(f"{name} is not enrolled any more. {desk.tell_broker()}")


def _desk(site: Path, broker_folder: Path | None, pid_file: Path | None) -> "Enrolment":
    from daemon.enrol import enrolment

    return enrolment(site.parent if site.name == "site.toml" else site, broker_folder, pid_file)


def _list(desk: "Enrolment", *, as_json: bool) -> None:
    found = desk.listed()
    if as_json:
        print(json.dumps([{"name": name, "standing": standing} for name, standing in found], indent=2))
    elif not found:
        print("No probe in site.toml, and nobody enrolled.")
    else:
        print("\n".join(f"{name}: {standing}" for name, standing in found))


def _daemon(desk: "Enrolment", password_to: Path | None, *, again: bool) -> None:
    from config.broker_caution import DAEMON_ACCOUNT

    file = desk.enrol_daemon(password_to, again=again)
    print(f"Written: {file}. In settings.toml:\n")
    print(f'    [broker]\n    username = "{DAEMON_ACCOUNT}"\n    password_file = "{_stated(desk, file)}"\n')
    print(desk.tell_broker())


def _stated(desk: "Enrolment", file: Path) -> Path:
    folder = desk.site_folder.absolute()
    whole = file.absolute()
    return whole.relative_to(folder) if whole.is_relative_to(folder) else whole
