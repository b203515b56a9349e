"""From a confirmed condition to a phone, with 64 probes at one reading a second on a real broker and daemon."""

from pathlib import Path

import pytest

from tests.support.latency import latencies_s
from tests.support.mosquitto import Mosquitto

pytestmark = pytest.mark.services


def test_an_alert_is_at_the_receiver_within_seconds(tmp_path: Path, mosquitto: Mosquitto) -> None:
    """X-32. The published requirement is 15 minutes, this project's 2 s for 95 of 100; `make bench` counts that."""
    found = latencies_s(tmp_path / "site", mosquitto, 6)
    # A machine that stands still makes some of the six later, and none sooner.
    assert min(found) <= 2
    assert sorted(found)[-2] <= 5
