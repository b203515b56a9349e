"""`clutchwarden run`: the daemon, until it is told to end."""

import logging
import signal
import sys
import threading
from types import FrameType
from typing import Annotated

import typer

from config.errors import refuse
from daemon.clock import SystemClock
from daemon.commands.site_folder import HERE, SiteArgument, fail, read_site
from daemon.contacts import address_mistakes
from daemon.environment import foreign_owners
from daemon.service import Service, Stated

log = logging.getLogger("clutchwarden")


def run(
    site: SiteArgument = HERE,
    verbose: Annotated[bool, typer.Option("--verbose", help="Say also what is usual.")] = False,
) -> None:
    """Watch the incubators of a site."""
    logging.basicConfig(
        stream=sys.stderr,
        level=logging.DEBUG if verbose else logging.INFO,
        format="%(asctime)s %(levelname)s %(name)s: %(message)s",
    )
    for noisy in ("urllib3", "requests", "asyncio", "tzlocal"):
        # Their lines can hold addresses with tokens in them. Those of the push library are held back where it is used.
        logging.getLogger(noisy).setLevel(logging.CRITICAL)
    owners = foreign_owners()
    if owners:
        raise fail("; ".join(owners))
    whole = read_site(site)
    refuse(address_mistakes(whole.site, whole.folder))
    service = Service(Stated(whole.folder, whole.site, whole.settings, whole.profiles), SystemClock())
    ended = threading.Event()

    def end(_number: int, _frame: FrameType | None) -> None:
        ended.set()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    service.start()
    log.info("%s is being watched.%s", whole.site.name, f" Pages: {service.page_url}" if service.page_url else "")
    ended.wait()
    log.info("Ending.")
    service.stop()
