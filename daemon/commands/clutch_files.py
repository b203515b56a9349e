"""`clutchwarden clutch import|export`: the register as a CSV table."""

import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import Progress

from daemon.clutches import register
from daemon.clutches.errors import RegisterError
from daemon.clutches.file import read_file
from daemon.clutches.sheet_cells import rows_of
from daemon.clutches.sheet_desk import try_sheet
from daemon.clutches.sheet_eggs import ADDED, SAME
from daemon.clutches.sheet_export import sheet
from daemon.clutches.sheet_import import CHANGED, REFUSED, Known, RowSaid
from daemon.commands.clutch_parts import now_ms
from daemon.commands.progress import PATIENCE_S
from daemon.commands.site_folder import HERE, SiteOption, WhoOption, fail, login_name, read_site

_LARGEST_BYTES = 50_000_000
_MOST_SHOWN = 200


def export_file(
    file: Annotated[Path | None, typer.Argument(help="Where to write; without it the terminal.")] = None,
    eggs: Annotated[bool, typer.Option("--eggs", help="Also marks, eggs, sizes and notes, each in a row.")] = False,
    site: SiteOption = HERE,
) -> None:
    """Write all clutches, also the closed ones, as a CSV table that `import` reads."""
    whole = read_site(site)
    with whole.journal() as journal, journal.read() as conn:
        numbers = [each.clutch_id for each in register.clutches(conn, include_closed=True)]
        with _counting("Writing", len(numbers)) as tick:
            files = []
            for done, number in enumerate(numbers, 1):
                found = read_file(conn, number)
                files += [] if found is None else [found]
                tick(done)
    text = sheet(files, whole.zone, eggs)
    if file is None:
        sys.stdout.write(text)
        return
    try:
        file.write_bytes(text.encode("utf-8"))
    except OSError as error:
        raise fail(f"{file} cannot be written: {(error.strerror or str(error)).lower()}.") from None
    print(f"{len(files)} clutch{'es' * (len(files) != 1)} written to {file}.")


def import_file(
    file: Annotated[Path, typer.Argument(help="The CSV table; `export` shows its columns.")],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what each row would change, and keep nothing.")
    ] = False,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Enter and change clutches from a CSV table: all of it, or nothing."""
    whole = read_site(site)
    try:
        rows = rows_of(_text(file))
    except RegisterError as error:
        raise fail(f"{file}: {error.told_in(whole.zone)}") from None
    known, by = Known(whole.places.all, whole.profiles, whole.zone), who or login_name()
    with whole.journal() as journal, _counting("Trying" if dry_run else "Entering", len(rows)) as tick:
        tried = try_sheet(journal, known, rows, by, now_ms(), lambda _: not dry_run, tick)
    _tell(tried.said, tried.left_open, dry_run)
    if not (dry_run or tried.kept):
        raise fail("Nothing was kept: somebody changed the register at the same moment. Give the file again.")
    print("Nothing was kept: this was a dry run." if dry_run else "All of it is kept.")


def _tell(said: Sequence[RowSaid], left_open: Sequence[tuple[str, int]], dry_run: bool) -> None:
    shown = [each for each in said if each.what == REFUSED or (dry_run and each.what != SAME)]
    for each in shown[:_MOST_SHOWN]:
        detail = f": {each.detail}" if each.detail else ""
        print(f"line {each.line}, {each.kind} {each.label}: {each.what}{detail}")
    if len(shown) > _MOST_SHOWN:
        print(f"and {len(shown) - _MOST_SHOWN} more")
    for label, number in left_open:
        print(f"{label} is closed, and nobody has said what became of {number} of its eggs.")
    counts = Counter(each.what for each in said)
    totals = ", ".join(f"{counts[what]} {what}" for what in (ADDED, CHANGED, SAME, REFUSED) if counts[what])
    print(f"Rows: {totals or 'none'}.")
    if counts[REFUSED]:
        raise fail("Nothing was kept. Mend the refused rows, and give the file again.")


def _text(file: Path) -> str:
    try:
        if file.stat().st_size > _LARGEST_BYTES:
            raise fail(f"{file} is larger than {_LARGEST_BYTES // 1_000_000} MB: that is no table of clutches.")
        return file.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise fail(f"{file} cannot be read: {(error.strerror or str(error)).lower()}.") from None
    except UnicodeDecodeError as error:
        reason = f"{file} is not UTF-8 text (byte {error.start + 1})."
        raise fail(f"{reason} Save it again as CSV in UTF-8.") from None


@contextmanager
def _counting(what: str, total: int) -> Iterator[Callable[[int], None]]:
    """Give what hears how many are done; a bar appears where that takes longer than two seconds."""
    progress = Progress(console=Console(stderr=True), transient=True)
    task = progress.add_task(what, total=total)
    began = time.monotonic()

    def tick(done: int) -> None:
        if time.monotonic() - began > PATIENCE_S:
            progress.start()
            progress.update(task, completed=done)

    try:
        yield tick
    finally:
        if progress.live.is_started:
            progress.stop()
