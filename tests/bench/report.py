"""What the readings of a month cost as CSV: 20 channels, beside the bare writer of the library with the same rows.

In processor time of this process, so that a busy machine changes little.
"""

import csv
import io
import itertools
import os
import time
from pathlib import Path
from typing import NamedTuple

from daemon.report_bundle import Bundle
from daemon.report_desk import ReportDesk
from daemon.report_originals import FOLDER, PAGE_ROWS
from daemon.storage import originals
from daemon.storage.journal import Journal
from tests.bench import big_site

DAYS = 31


class ReportCost(NamedTuple):
    """Seconds of processor time for everything but the readings, for the readings, and for the bare writer.

    `select_s` is reading the same rows and doing nothing with them.
    `grown_mb`: how much more memory this process held at most while the readings were written.
    """

    report_s: float
    readings_s: float
    select_s: float
    bare_s: float
    readings: int
    megabytes: float
    grown_mb: float


class _Nowhere:
    """Takes what a writer writes, and keeps nothing."""

    def write(self, text: str) -> int:
        return len(text)


def report_cost(folder: Path, readings: int = big_site.READINGS) -> ReportCost:
    """Fill a journal of its own with 31 days, and measure the month in which most of them lie."""
    big_site.make(folder, readings, events=1000, days=DAYS)
    with Journal.open(folder / "journal.sqlite3") as journal:
        site = big_site.opened(folder, journal)
        now_ms = big_site.newest_ms(journal) + 1
        desk = ReportDesk(journal, site.site, site.profiles, big_site.BRIDGE_S, lambda: now_ms)
        began = time.process_time()
        bundle = desk.month(desk.months()[0])
        report_s = time.process_time() - began
        before_mb, most_mb, size = _resident_mb(), 0.0, 0
        began = time.process_time()
        for piece in bundle.pieces:
            for chunk in piece.chunks() if piece.name.startswith(FOLDER) else ():
                size += len(chunk)
                most_mb = max(most_mb, _resident_mb())
        readings_s = time.process_time() - began
        began = time.process_time()
        _select(journal, now_ms)
        select_s = (time.process_time() - began) * bundle.readings / readings
        bare_s = _bare_s(bundle)
    grown_mb = most_mb - before_mb
    return ReportCost(report_s, readings_s, select_s, bare_s, bundle.readings, size / 1e6, grown_mb)


def line_of(cost: ReportCost) -> str:
    """Tell it."""
    beside = cost.readings_s / (cost.select_s + cost.bare_s)
    return (
        f"{cost.readings:,} readings of a month as CSV ({cost.megabytes:.0f} MB): {cost.readings_s:.1f} s of "
        f"processor time, {beside:.2f} times a bare SELECT ({cost.select_s:.1f} s) and the bare csv writer "
        f"({cost.bare_s:.1f} s), {cost.readings_s / cost.bare_s:.2f} times the writer alone; {cost.grown_mb:.0f} MB "
        f"more memory; all else of the month {cost.report_s:.1f} s; load of this machine {os.getloadavg()[0]:.1f}"
    )


def _select(journal: Journal, now_ms: int) -> None:
    """All readings of each channel in order of time, read and thrown away page by page."""
    with journal.read() as conn:
        for number, _quantity in originals.known(conn).values():
            begin_ms = 0
            while rows := originals.page(conn, number, begin_ms, now_ms, PAGE_ROWS):
                begin_ms = rows[-1][0] + 1


def _bare_s(bundle: Bundle) -> float:
    """The library's own writer with rows of the same cells that are there already, page by page."""
    piece = next(each for each in bundle.pieces if each.name.startswith(FOLDER))
    text = b"".join(itertools.islice(piece.chunks(), 2)).decode()
    page = [(*row[:5], float(row[5]), float(row[6]), row[7]) for row in list(csv.reader(io.StringIO(text)))[1:]]
    writer, spent_s = csv.writer(_Nowhere()), 0.0
    for _ in range(max(1, bundle.readings // len(page))):
        began = time.process_time()
        writer.writerows(page)
        spent_s += time.process_time() - began
    return spent_s


def _resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
