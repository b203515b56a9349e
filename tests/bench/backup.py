"""A backup of a large journal, and what ingest keeps of its rate meanwhile.

Readings are decoded and stored as fast as they can be, in batches, with each commit waited for: more than any site
sends. The keeper's thread backs up meanwhile, with its low priority and its rests. Both rates are of the same journal.
"""

import json
import os
import sys
import tempfile
import threading
import time
from pathlib import Path
from zoneinfo import ZoneInfo

from config.backup import BackupSettings
from config.settings import IngestSettings
from daemon import backup_folder
from daemon.arrival import Arrival
from daemon.backup_keeper import BackupKeeper
from daemon.backup_maker import Source
from daemon.commands.site_folder import read_site
from daemon.decoding import decoder_of
from daemon.ingest import Ingest
from daemon.storage import backups
from daemon.storage.journal import Journal
from tests.support.household import MEASURE, now_ms, pack, write_site

BYTES = 200_000_000
BATCH = 200
BASELINE_S = 15.0
_AT_ONCE = 200_000
_INSERT = "INSERT INTO sample (channel_id, measured_at_ms, received_at_ms, value, quality) VALUES (?, ?, ?, ?, 0)"


def fill(journal: Journal, size: int) -> None:
    """Store readings of twenty channels, one a minute, until the journal has its size."""
    rows = [(number, f"p{number}/t", f"p{number}", "air_temperature") for number in range(101, 121)]
    journal.write(lambda conn: conn.executemany("INSERT INTO channel VALUES (?, ?, ?, ?)", rows).rowcount)
    minute = 0
    while journal.path.stat().st_size < size:
        part = [
            (channel, 60_000 * number + channel, 60_000 * number + channel + 300, 28 + (number * 7 + channel) % 97 / 8)
            for number in range(minute, minute + _AT_ONCE // 20)
            for channel in range(101, 121)
        ]
        journal.write(lambda conn, part=part: conn.executemany(_INSERT, part).rowcount)  # type: ignore[misc]
        minute += _AT_ONCE // 20


class Sending:
    """A probe that sends without a rest."""

    def __init__(self, ingest: Ingest, start_ms: int) -> None:
        self._ingest = ingest
        self._at_ms = start_ms
        self.slowest_s = 0.0

    def until(self, ended: threading.Event, at_most_s: float = 1e9) -> float:
        """Send until then, and give messages in a second."""
        began_s, count = time.perf_counter(), 0
        while not ended.is_set() and time.perf_counter() - began_s < at_most_s:
            batch_s = time.perf_counter()
            self._ingest.commit([self._arrival() for _ in range(BATCH)]).result()
            self.slowest_s = max(self.slowest_s, time.perf_counter() - batch_s)
            count += BATCH
        return count / (time.perf_counter() - began_s)

    def _arrival(self) -> Arrival:
        self._at_ms += 1
        payload = pack(self._at_ms, {"air": 28 + self._at_ms % 7 / 100, "rh": 70 + self._at_ms % 11 / 10})
        decoded = self._ingest.decode(MEASURE, payload, False, self._at_ms)
        return Arrival(MEASURE, payload, False, self._at_ms, decoded, 0, 1)


def measure(folder: Path, size: int) -> dict[str, float]:
    """Do it in a folder."""
    site = read_site(write_site(folder / "site", 1883))
    backup_folder.set_up(folder / "backups", "bench")
    with Journal.open(site.journal_path) as journal:
        fill(journal, size)
        ingest = Ingest(decoder_of(site.site, IngestSettings(), journal), journal, lambda: None)
        settings = BackupSettings(folder=folder / "backups")
        keeper = BackupKeeper(journal, Source(site.folder, "bench", "0"), settings, ZoneInfo("UTC"), now_ms)
        sending, ended = Sending(ingest, now_ms()), threading.Event()
        before = sending.until(ended, BASELINE_S)
        sending.slowest_s = 0.0
        began_s, cpu_s = time.perf_counter(), time.process_time()
        keeper.start()

        def wait() -> None:
            while not _made(journal):
                time.sleep(0.1)
            ended.set()

        threading.Thread(target=wait).start()
        during = sending.until(ended)
        took_s, worked_s = time.perf_counter() - began_s, time.process_time() - cpu_s
        slowest_s = sending.slowest_s
        keeper.stop()
        after = sending.until(threading.Event(), BASELINE_S)
        bytes_ = journal.path.stat().st_size
    return {
        "journal_bytes": bytes_,
        "backup_s": took_s,
        "backup_s_per_gb": took_s / bytes_ * 1e9,
        "processor_s_of_all": worked_s,
        "messages_per_s_before": before,
        "messages_per_s_during": during,
        "messages_per_s_after": after,
        "ratio": during / ((before + after) / 2),
        "slowest_batch_s": slowest_s,
        "load": os.getloadavg()[0],
    }


def _made(journal: Journal) -> bool:
    with journal.read() as conn:
        return backups.newest_run(conn) is not None


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(dir=os.environ.get("BENCH_DIR")) as made:
        print(json.dumps(measure(Path(made), int(sys.argv[1]) if sys.argv[1:] else BYTES), indent=1))
