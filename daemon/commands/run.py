"""`clutchwarden run`: the daemon, until it is told to end."""

import contextlib
import logging
import signal
import sys
from pathlib import Path
from types import FrameType
from typing import Annotated

import typer

from config.errors import refuse
from config.notify import Notifier, say_where_it_stands_when_aborted
from daemon.access.values import Refused
from daemon.access.welcome import welcome_text
from daemon.clock import SystemClock
from daemon.commands.site_folder import HERE, SiteOption, fail, read_site
from daemon.contacts import address_mistakes
from daemon.descriptors import raise_descriptors
from daemon.environment import foreign_owners
from daemon.kept import Kept
from daemon.restarts import Restarts, keep_running
from daemon.service import Service
from daemon.stated import Stated
from daemon.storage.audit import HOST
from daemon.storage.journal import JournalError

log = logging.getLogger("clutchwarden")


def run(
    site: SiteOption = HERE,
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
    raise_descriptors()
    say_where_it_stands_when_aborted()
    restarts, kept, manager = Restarts(), Kept(), Notifier()

    def end(_number: int, _frame: FrameType | None) -> None:
        restarts.end()

    def again(_number: int, _frame: FrameType | None) -> None:
        restarts.wish()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    signal.signal(signal.SIGHUP, again)

    def made(stated: Stated) -> Service:
        return _Watching(stated, manager, restarts, kept)

    def anew() -> Stated:
        manager.reloading()
        return _stated(site)

    try:
        keep_running(_stated(site), anew, made, restarts)
    finally:
        kept.port.close()


class _Watching(Service):
    """A daemon that says in the log and to the service manager when it begins and when it ends."""

    def __init__(self, stated: Stated, manager: Notifier, restarts: Restarts, kept: Kept) -> None:
        super().__init__(stated, SystemClock(), restart=restarts.wish, kept=kept, manager=manager)
        self._restarts = restarts

    def start(self) -> None:
        """Start every part, and say so."""
        super().start()
        # By now the journal is open, the pages answer and the broker is being tried, for as long as it takes.
        self._manager.ready(f"{self._stated.site.name} is being watched.")
        log.info("%s is being watched.%s", self._stated.site.name, f" Pages: {self.page_url}" if self.page_url else "")
        # The watch has begun, and goes on also where this can be neither kept nor shown.
        with contextlib.suppress(JournalError, OSError):
            self._welcome()

    def _welcome(self) -> None:
        """Show the first code to whoever has started this: on standard output, and not as a line of the log.

        Where a service manager keeps what is printed, the code stands there too; it is good for an hour, once.
        """
        if self.page_url is None or not self.access.needs_first():
            return
        made = self.access.first_code(None, HOST)
        if not isinstance(made, Refused):
            public_url = self._stated.settings.web.public_url
            print(welcome_text(made[0], self.page_url if public_url is None else f"{public_url}/"), flush=True)

    def remark(self, sentence: str) -> None:
        """Go on with what was stated before."""
        super().remark(sentence)
        self._manager.ready(f"{self._stated.site.name} is being watched by what was stated before: see the first page.")

    def stop(self) -> None:
        """Say so, and end every part."""
        log.info("Ending.")
        if self._restarts.over:
            self._manager.stopping()
        super().stop()


def _stated(site: Path) -> Stated:
    """Read and check everything. Raises ConfigError."""
    whole = read_site(site, for_service=True)
    refuse(address_mistakes(whole.site, whole.folder))
    return Stated(whole.folder, whole.site, whole.settings, whole.profiles)
