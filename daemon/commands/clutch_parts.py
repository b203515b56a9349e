"""What the commands of the register share."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, TypeVar

import typer

from daemon.clutches.desk import Refusal, RegisterDesk
from daemon.clutches.values import Clutch
from daemon.commands.moments import moment_ms
from daemon.commands.site_folder import SiteFolder, SiteOption, fail, read_site

T = TypeVar("T")

LabelArgument = Annotated[str, typer.Argument(help="The clutch's label, as on its box.")]
AtOption = Annotated[str | None, typer.Option("--at", help="When: 2026-05-03 or '2026-05-03 14:30'. Default: now.")]
WhyOption = Annotated[str, typer.Option("--why", help="Why; kept with the change.")]


def now_ms() -> int:
    """The present moment, UTC ms."""
    return time.time_ns() // 1_000_000


@contextmanager
def register_of(site: SiteOption) -> Iterator[tuple[SiteFolder, RegisterDesk]]:
    """Open the register of a site folder."""
    whole = read_site(site)
    with whole.journal() as journal:
        yield whole, RegisterDesk(journal, whole.site, whole.profiles, now_ms)


def done(result: T | Refusal) -> T:
    """Give what was done; say why it was not, and end the command."""
    if isinstance(result, Refusal):
        raise fail(f"Not done: {result}")
    return result


def at_ms(text: str | None, whole: SiteFolder, option: str = "--at") -> int:
    """A moment as people type it; the present one where nothing is said."""
    return moment_ms(text, whole.zone, option) if text else now_ms()


def celsius(stated: float | None, whole: SiteFolder) -> float | None:
    """A temperature in the unit of the site, as °C."""
    return None if stated is None else (stated - 32) / 1.8 if whole.fahrenheit else stated


def kelvin(stated: float | None, whole: SiteFolder) -> float | None:
    """A difference of temperatures in the unit of the site, in K."""
    return None if stated is None else stated / (1.8 if whole.fahrenheit else 1.0)


def closed_too(desk: RegisterDesk, label: str) -> Clutch:
    """The open clutch with this label; where there is none, the newest that was closed or withdrawn under it."""
    return done(desk.find(label, include_closed=True))
