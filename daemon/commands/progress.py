"""A bar on standard error for work that takes longer than a moment."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import Progress

from daemon.tabular.file import OpenTable

PATIENCE_S = 2.0
_LINES_BETWEEN = 5000


@contextmanager
def lines_with_progress(
    table: OpenTable, clock: Callable[[], float] = time.monotonic, console: Console | None = None
) -> Iterator[Iterator[str]]:
    """Give the lines of a table; a bar appears once reading has taken two seconds, and goes when it ends."""
    progress = Progress(console=console or Console(stderr=True), transient=True)
    task = progress.add_task("Reading", total=table.size_bytes)
    began = clock()

    def watched() -> Iterator[str]:
        for number, line in enumerate(table.lines):
            if number % _LINES_BETWEEN == 0 and clock() - began > PATIENCE_S:
                progress.start()
                progress.update(task, completed=table.read_bytes())
            yield line

    try:
        yield watched()
    finally:
        if progress.live.is_started:
            progress.stop()


@contextmanager
def waiting(what: str, patience_s: float = PATIENCE_S, console: Console | None = None) -> Iterator[None]:
    """Show a moving bar where a block takes longer than `patience_s` and nothing can be counted in it."""
    progress = Progress(console=console or Console(stderr=True), transient=True)
    progress.add_task(what, total=None)
    timer = threading.Timer(patience_s, progress.start)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()
        if progress.live.is_started:
            progress.stop()


@contextmanager
def counting(
    what: str, clock: Callable[[], float] = time.monotonic, console: Console | None = None
) -> Iterator[Callable[[int], Callable[[int], None]]]:
    """Give what is called once with how much there is to do; that gives what is called with how much was done.

    A bar appears once two seconds have passed, and goes in the end.
    """
    progress = Progress(console=console or Console(stderr=True), transient=True)
    began = clock()

    def started(total: int) -> Callable[[int], None]:
        task = progress.add_task(what, total=total)

        def advance(done: int) -> None:
            if not progress.live.is_started and clock() - began > PATIENCE_S:
                progress.start()
            progress.advance(task, done)

        return advance

    try:
        yield started
    finally:
        if progress.live.is_started:
            progress.stop()
