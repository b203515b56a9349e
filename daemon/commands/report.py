"""`clutchwarden report`: the record of a clutch, a month, a season, each a folder that can be printed and checked."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from config.errors import StatedError
from config.plain import nearest
from daemon.clutches import register
from daemon.clutches.rows import by_number, with_label
from daemon.commands.progress import PATIENCE_S
from daemon.commands.site_folder import HERE, SiteOption, fail, read_site
from daemon.report_bundle import Bundle, refuse_taken, write_folder
from daemon.report_desk import ReportDesk
from daemon.reports.names import PAGE, SUMS
from daemon.storage.journal import Journal

app = typer.Typer(help="Reports to hand on: the record of a clutch, a month, a season.", no_args_is_help=True)
ToOption = Annotated[
    Path | None,
    typer.Option(
        "--to", help="A new folder for it; nothing is overwritten.", show_default="a folder here, by its name"
    ),
]
Make = Callable[[ReportDesk, Journal, Callable[[int], None]], Bundle]


@app.command()
def clutch(
    which: Annotated[str, typer.Argument(metavar="LABEL|NUMBER", help="Its label, or its number in the register.")],
    to: ToOption = None,
    site: SiteOption = HERE,
) -> None:
    """Write the record of a clutch, open or closed, from laying to hatch, with every reading where it lay."""

    def make(desk: ReportDesk, journal: Journal, advance: Callable[[int], None]) -> Bundle:
        found = desk.clutch(number_of(journal, which), advance)
        if found is None:
            raise StatedError(f"there is no clutch {which!r}", "clutchwarden clutch list --all shows them")
        return found

    _write(site, to, make)


@app.command()
def month(
    which: Annotated[str, typer.Argument(metavar="YYYY-MM", help="The month, on the calendar of the site.")],
    to: ToOption = None,
    site: SiteOption = HERE,
) -> None:
    """Write a month of the whole site: places by the day, alarms, incidents, rounds, and every reading."""
    _write(site, to, lambda desk, _journal, advance: desk.month(which, advance))


@app.command()
def season(
    which: Annotated[str, typer.Argument(metavar="YYYY", help="The year in which the eggs were laid.")],
    to: ToOption = None,
    site: SiteOption = HERE,
) -> None:
    """Write a season: what became of the eggs, by species and by place, and what it took to hatch them."""
    _write(site, to, lambda desk, _journal, _advance: desk.season(which))


def number_of(journal: Journal, which: str) -> int:
    """Find a clutch by its label, an open one before closed ones, else by its number. Raises StatedError."""
    wanted = which.strip()
    with journal.read() as conn:
        known = [each for each in with_label(conn, wanted) if each.withdrawn_at_ms is None]
        numbered = by_number(conn, int(wanted)) if wanted.isascii() and wanted.isdigit() and len(wanted) <= 18 else None  # noqa: PLR2004 - what the journal counts to
        labels = [each.label for each in register.clutches(conn, include_closed=True)]
    lying = [each for each in known if each.is_open]
    if lying:
        return lying[0].clutch_id
    if len(known) > 1:
        numbers = ", ".join(str(each.clutch_id) for each in known)
        raise StatedError(f"{len(known)} closed clutches were called {wanted!r}", f"give a number: {numbers}")
    if known:
        return known[0].clutch_id
    if numbered is not None and numbered.withdrawn_at_ms is None:
        return numbered.clutch_id
    hint = nearest(wanted.lower(), labels) if labels else "no clutch is on record yet"
    raise StatedError(f"there is no clutch {wanted!r}", hint)


def _write(site: Path, to: Path | None, make: Make) -> None:
    whole = read_site(site)
    try:
        if to is not None:
            refuse_taken(to)
        with whole.journal() as journal, _bar() as (begin, advance):
            bridge_s = whole.settings.heat.longest_bridge_s
            desk = ReportDesk(journal, whole.site, whole.profiles, bridge_s, lambda: time.time_ns() // 1_000_000)
            bundle = make(desk, journal, advance)
            folder = Path(bundle.name) if to is None else to
            begin(bundle.readings)
            write_folder(bundle, folder)
    except StatedError as error:
        hint = error.hint.rstrip(". ")
        raise fail(f"{error.reason[:1].upper()}{error.reason[1:]}. {hint[:1].upper()}{hint[1:]}.") from None
    readings = f", with {bundle.readings} readings as CSV" if bundle.readings else ""
    print(f"Written to {folder}{readings}.")
    print(f"To print it, open {folder / PAGE} in a browser. To check it: cd {folder} && sha256sum --check {SUMS}")


@contextmanager
def _bar() -> Iterator[tuple[Callable[[int], None], Callable[[int], None]]]:
    """A bar on standard error once it takes longer than two seconds; called with the whole, then with each part."""
    from rich.console import Console
    from rich.progress import Progress

    progress = Progress(console=Console(stderr=True), transient=True)
    task, began_s = progress.add_task("Readings", total=None), time.monotonic()

    def begin(total: int) -> None:
        progress.update(task, total=total or None)

    def advance(done: int) -> None:
        progress.advance(task, done)
        if not progress.live.is_started and time.monotonic() - began_s > PATIENCE_S:
            progress.start()

    try:
        yield begin, advance
    finally:
        if progress.live.is_started:
            progress.stop()
