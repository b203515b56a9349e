"""Entries survive kill -9: what was answered for is there, whole, and what is sent again is stored once."""

import json
import subprocess
import sys
from pathlib import Path

from daemon.rounds.values import Already, Stored
from tests.rounds.bench import MOULD, N1, Bench, eggs, entry

WRITER = """
import sys
from pathlib import Path
from tests.rounds.bench import Bench, MOULD, N1, eggs, entry

bench = Bench(Path(sys.argv[1]))
number = int(sys.argv[2])
for egg in range(int(sys.argv[3]), 9):
    sys.stdin.readline()
    bench.desk.enter(number, entry(egg, N1, water_ml=10.0, eggs=(eggs(MOULD, str(egg)),)))
    print(egg, flush=True)
"""


def test_a_kill_between_any_two_entries_loses_none_that_was_answered_for(tmp_path: Path) -> None:
    folder = tmp_path / "site"
    bench = Bench(folder)
    bench.clutch()
    number = bench.start()
    answered = 0
    for _ in range(4):
        code = [sys.executable, "-c", WRITER, str(folder), str(number), str(answered + 1)]
        with subprocess.Popen(code, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdin is not None
            assert writer.stdout is not None
            # The second entry is under way when the first is answered for and the process is killed.
            writer.stdin.write("go\ngo\n")
            writer.stdin.flush()
            answered = int(writer.stdout.readline())
            writer.kill()
            rest = writer.stdout.read().split()
        answered = int(rest[-1]) if rest else answered
        said = bench.rows("SELECT entry_id, eggs FROM box_finding ORDER BY finding_id")
        assert len(said) >= answered
        # An entry and what it says of eggs are one: neither is there without the other.
        events = {event for _, text in said for done in json.loads(str(text)) for event in done["events"]}
        assert events == {event for (event,) in bench.rows("SELECT event_id FROM egg_event")}
        assert len({entry_id for entry_id, _ in said}) == len(said)
        answered = len(said)
    for egg in range(1, 9):
        # The browser does not know what arrived: it sends all of it again, in order.
        done = bench.desk.enter(number, entry(egg, N1, water_ml=10.0, eggs=(eggs(MOULD, str(egg)),)))
        assert isinstance(done, Already if egg <= answered else Stored)
    view = bench.desk.sheet(N1)
    assert view is not None
    assert view.state is not None
    assert view.sheet.clutch is not None
    assert (view.state.water_ml, view.sheet.clutch.counts.lost) == (80.0, 8)
    bench.journal.close()
