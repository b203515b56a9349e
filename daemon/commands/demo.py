"""`clutchwarden demo`: everything at once, on an invented site, without anything left behind."""

import contextlib
import logging
import signal
import socket
import sys
from typing import Annotated

import typer
from rich.console import Console

from daemon.commands.site_folder import fail
from daemon.environment import foreign_owners

USUAL_PORT = 8330


def demo(
    seconds: Annotated[float | None, typer.Option(min=1, help="End by itself after this many seconds.")] = None,
    port: Annotated[int | None, typer.Option(min=1, max=65535, help="Port of the pages.")] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Do not open the page.")] = False,
    sign_in: Annotated[
        bool, typer.Option("--sign-in", help="Ask for a password, as a site of one's own does.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="The summary as one JSON object on the last line.")] = False,
) -> None:
    """Show the whole way from a probe to a phone, on an invented site and a fast clock."""
    owners = foreign_owners()
    if owners:
        raise fail("; ".join(owners))
    from daemon.demo.stage import Demo, summary_json

    logging.basicConfig(stream=sys.stderr, level=logging.ERROR, format="%(levelname)s %(name)s: %(message)s")
    for number in (signal.SIGINT, signal.SIGTERM):
        # Also where it was started in the background, with the first of them switched off.
        signal.signal(number, signal.default_int_handler)
    # With --json the last line of standard output is for a program; what people read goes to standard error.
    console = Console(stderr=as_json)
    page_port = port or (USUAL_PORT if _is_free(USUAL_PORT) else _any_port())
    shown = Demo(console, page_port, _any_port(), seconds, sign_in=sign_in)
    summary = shown.run(open_browser=not no_browser and sys.stdout.isatty())
    if as_json:
        print(summary_json(summary))
    else:
        console.print(
            f"Readings stored: {summary.samples_stored:,}. Alarms raised: {summary.alarms_raised}. "
            f"Alerts delivered: {summary.alerts_delivered}. Clutches with heat: {summary.clutches_with_heat}. "
            "Nothing is left behind."
        )


def _is_free(port: int) -> bool:
    with socket.socket() as probe, contextlib.suppress(OSError):
        # As the page server does: a port that an ended program has just left is free.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind(("127.0.0.1", port))
        return True
    return False


def _any_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
