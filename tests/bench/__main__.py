"""`make bench`: every ratio that the project promises, from one run on this machine.

`python -m tests.bench sizing` says how large journal and mirror get, and how pages fare with more history.
"""

import os
import sys
import tempfile
from pathlib import Path

from tests.bench import backup, big_site, mirror, pages, phones, report, review, sizing, spool, verify
from tests.bench.heat import season_ratio
from tests.bench.ingest import ingest_ratio
from tests.bench.journal import append_ratio
from tests.bench.latency import alert_latency
from tests.bench.update import update_cost


def main() -> None:
    """Measure and print."""
    print(f"journal append / bare executemany: {append_ratio():.2f} (goal at least 0.6)")
    print(f"heat of a season / numpy.trapezoid: {season_ratio():.2f} times as long (goal at most 1.5)")
    print(spool.line_of(spool.spool_cost()))
    cost = update_cost()
    print(
        f"a new reading, heat of 60 clutches: {cost.late_us:.0f} µs on day 120 (goal at most 50), "
        f"{cost.early_us:.0f} µs on day 2: {cost.slope_us_per_day:+.2f} µs per day of history"
    )
    ratio, per_second = ingest_ratio()
    print(f"ingest / a consumer that does nothing: {ratio:.2f} (goal at least 0.7); {per_second:,.0f} messages/s")
    latency = alert_latency()
    print(
        f"confirmed condition to receiver, 64 probes at 1 Hz: 95 of 100 within {latency.p95_s:.2f} s (goal 2), "
        f"99 within {latency.p99_s:.2f} s (goal 5), longest {latency.longest_s:.2f} s"
    )
    _backup()
    _mirror()
    _pages()
    with tempfile.TemporaryDirectory() as name:
        print(report.line_of(report.report_cost(Path(name) / "month")))


def _backup() -> None:
    with tempfile.TemporaryDirectory() as name:
        found = backup.measure(Path(name), backup.BYTES)
    print(
        f"a backup of 1 GB takes {found['backup_s_per_gb']:.0f} s (goal at most 30), and ingest keeps "
        f"{found['ratio']:.2f} of its rate meanwhile (goal at least 0.8); load of this machine {found['load']:.1f}"
    )


def _mirror() -> None:
    with tempfile.TemporaryDirectory() as name:
        print(mirror.line_of(mirror.mirror_cost(Path(name))))


def _pages() -> None:
    """What a large site costs its pages, all from one journal."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        rolled_us = big_site.make(folder)
        print(f"rolling up for charts: {rolled_us:.1f} µs a reading; load of this machine {os.getloadavg()[0]:.1f}")
        for line in pages.lines(pages.page_costs(folder)):
            print(line)
        print(pages.ratio_line(pages.year_ratio(folder)))
        print(phones.line_of(phones.phone_cost(folder)))
        print(verify.line_of(verify.verify_cost(folder)))
        print(review.line_of(review.review_cost(folder)))


def _sizing() -> None:
    with tempfile.TemporaryDirectory() as name:
        for line in sizing.lines(sizing.measure(Path(name))):
            print(line)
    for days in sizing.HISTORY_DAYS:
        with tempfile.TemporaryDirectory() as name:
            print(sizing.history_line(Path(name), days))


if __name__ == "__main__":
    if sys.argv[1:] == ["sizing"]:
        _sizing()
    elif sys.argv[1:]:
        sys.exit(__doc__)
    else:
        main()
