"""`clutchwarden watch`: the watcher for a second machine; check its file, try its ways, answer for a person."""

import json
import os
import sys
import time
import uuid
from pathlib import Path
from typing import Annotated
from urllib.parse import urlencode

import typer
from pydantic import SecretStr

from config.errors import refuse
from config.watch import WatchFile, load_watch
from daemon.alarms.delivery import Delivered, as_sent
from daemon.commands.progress import waiting
from daemon.commands.site_folder import fail, login_name
from daemon.contacts import address_mistakes, channels, names_by_contact
from daemon.http_call import Answered, HttpCall
from daemon.watcher.wording import trial

EXIT_NOT_DELIVERED = 1
_OF_THE_SERVICE = Path("/var/lib/clutchwarden-watcher")
"""StateDirectory= of deploy/systemd/clutchwarden-watcher.service"""
_EVERYWHERE = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}  # noqa: S104  an address to ask, nothing is bound by this

FileArgument = Annotated[Path, typer.Argument(metavar="FILE.toml", help="The watcher's file.")]


def watch(
    file: FileArgument,
    check: Annotated[bool, typer.Option("--check", help="Say what is wrong in the file, and end.")] = False,
    test: Annotated[bool, typer.Option("--test", help="Send TEST to everybody in the file, and end.")] = False,
    answer: Annotated[bool, typer.Option("--answer", help="Tell the running watcher that you go, and end.")] = False,
    who: Annotated[str, typer.Option("--who", help="Who answers.", show_default="your login")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="With --test: the result as JSON.")] = False,
) -> None:
    """Watch the daemon from a second machine, and tell people when it is silent or not well."""
    if check + test + answer > 1:
        raise fail("Give one of --check, --test and --answer.")
    stated = load_watch(file, to_watch=not (check or answer))
    refuse(address_mistakes(stated.site, stated.folder))
    if check:
        for warning in stated.warnings:
            print(warning)
        people = len(stated.stated.people)
        print(f"{stated.stated.name}: {people} {'person' if people == 1 else 'people'} to tell. No mistakes.")
    elif test:
        _try_all(stated, as_json)
    elif answer:
        print(_answer(stated, who or login_name()))
    else:
        # A fresh program in place of this one: the commands have loaded much that a watcher does not need.
        sys.stdout.flush()
        os.execv(sys.executable, [sys.executable, "-P", "-m", "daemon.watcher", str(stated.path)])  # noqa: S606


def _try_all(file: WatchFile, as_json: bool) -> None:
    names = names_by_contact(file.site)
    message = trial(file.stated.name, f"trial-{uuid.uuid4().hex[:12]}")
    failed: dict[str, str] = {}
    ways = channels(file.site, file.folder, file.stated.delivery.timeout_s)
    with waiting("Sending"):
        for contact, way in ways.items():
            result = way.send(as_sent(message, time.time_ns() // 1_000_000))
            if not isinstance(result, Delivered):
                failed[contact] = result.error
    if as_json:
        told = [{"contact": one, "name": names[one], "error": failed.get(one)} for one in ways]
        print(json.dumps(told, ensure_ascii=False))
    else:
        for one in ways:
            print(f"{names[one]}: {failed.get(one, 'accepted; ask whether it arrived')}.")
    if failed:
        raise typer.Exit(EXIT_NOT_DELIVERED)


def _answer(file: WatchFile, who: str) -> str:
    """Tell the running watcher, over its own port, with what it keeps for the newest message."""
    memory = file.state_path
    if file.stated.state_file is None and not memory.exists():
        # Started by the system, a watcher may write there alone.
        memory = _OF_THE_SERVICE / memory.name
    try:
        incident = json.loads(memory.read_text(encoding="utf-8"))["incident"]
        token = None if incident is None else str(incident["token"])
    except FileNotFoundError:
        token = None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise fail(f"The watcher's memory {memory} cannot be read ({type(error).__name__}).") from None
    if token is None:
        raise fail("The watch is well: there is nothing to answer.")
    page = file.stated.page
    url = f"http://{_EVERYWHERE.get(page.host, page.host)}:{page.port}/answer/{token}"
    said = HttpCall(SecretStr(url), 5.0, "answer").make("POST", urlencode({"who": who}).encode())
    if not isinstance(said, Answered):
        raise fail(f"The watcher does not run here, or not with this file: {said.reason}.")
    if said.status != 200:  # noqa: PLR2004 - the one status that means taken
        raise fail(f"The watcher did not take the answer ({said.status}): the silence may be over by now.")
    return f"Noted: {who} looks after it. The others are told."
