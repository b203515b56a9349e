"""`clutchwarden simulate`: simulated probes on a real broker, to try a site before the real ones come."""

import logging
import signal
import sys
import threading
import time
from types import FrameType
from typing import Annotated

import typer

from daemon.buffered_client import tls_of
from daemon.clutches.register import clutches
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, fail, read_site
from sensors.feed import run_feed


def simulate(
    site: SiteOption = HERE,
    host: Annotated[str | None, typer.Option(help="The broker's host. Default: as in settings.toml.")] = None,
    port: Annotated[int | None, typer.Option(min=1, max=65535, help="The broker's port.")] = None,
    seconds: Annotated[float | None, typer.Option(min=1, help="End by itself after this many seconds.")] = None,
    anyway: Annotated[bool, typer.Option("--anyway", help="Also where clutches are on record.")] = False,
    seed: Annotated[int, typer.Option(help="The same seed gives the same readings.")] = 1,
) -> None:
    """Publish readings for every probe of the site, as real probes would. Not beside real probes of the same names."""
    logging.basicConfig(stream=sys.stderr, level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
    whole = read_site(site)
    if not anyway and (lying := open_clutches(whole)):
        raise fail(
            f"The register holds {lying} open clutch{'es' * (lying > 1)}, and invented readings would count as heat of "
            "real eggs for ever. Use a copy of the site folder with a journal of its own, or say --anyway."
        )
    broker = whole.settings.broker
    stop = threading.Event()

    def end(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    run_feed(
        whole.site,
        host or broker.host,
        port or broker.port,
        seed=seed,
        rate=1.0,
        now_ms=lambda: time.time_ns() // 1_000_000,
        stop=stop,
        duration_s=seconds,
        username=broker.username,
        password=broker.reveal_password(),
        protocol="3.1.1" if broker.embedded else broker.protocol,
        tls=tls_of(broker) if broker.tls else None,
    )


def open_clutches(whole: SiteFolder) -> int:
    """How many clutches are on record and not closed."""
    if not whole.journal_path.exists():
        return 0
    with whole.journal() as journal, journal.read() as conn:
        return len(clutches(conn))
