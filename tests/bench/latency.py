"""From a confirmed condition to the phone: 64 probes at one reading a second, a real broker, daemon and receiver."""

import tempfile
from pathlib import Path
from typing import NamedTuple

import numpy as np

from tests.support import mosquitto as support
from tests.support.latency import latencies_s
from tests.support.mosquitto import Mosquitto

ROUNDS = 60


class Latency(NamedTuple):
    """Seconds within which 95 and 99 of 100 alerts are at the receiver, and the longest."""

    p95_s: float
    p99_s: float
    longest_s: float


def alert_latency() -> Latency:
    """Measure on 60 alarms, one after another."""
    with tempfile.TemporaryDirectory() as folder:
        program = support.program()
        if program is None:
            raise SystemExit("Mosquitto is not installed; deploy/test-services.sh brings it")
        broker = Mosquitto(Path(folder) / "mosquitto", program)
        broker.start()
        try:
            found = latencies_s(Path(folder) / "site", broker, ROUNDS)
        finally:
            broker.stop()
    return Latency(*(float(each) for each in np.quantile(found, [0.95, 0.99, 1.0], method="higher")))
