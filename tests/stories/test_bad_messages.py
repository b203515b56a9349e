"""Whatever comes over the broker is counted once, kept with its reason where it is of no use; the daemon goes on.

X-38 of the checks in tests/alarms/README.md.
"""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.storage import messages
from daemon.storage.journal import Journal
from sensors.reading import Outcome, Quality
from tests.support.household import MEASURE, MINUTE_MS, House, Probe, now_ms, pack, write_site
from tests.support.mosquitto import Mosquitto

pytestmark = pytest.mark.services

FOREIGN = """
[[probe]]
id = "plug"
place = "north/upper/N1"
[[probe.channel]]
name = "t"
quantity = "air_temperature"
[[probe.source]]
topic = "greenhouse/+/state"
channel = "t"
pointer = "/reading/temp"
unit = "degF"
"""


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto) -> Iterator[House]:
    home = House(write_site(tmp_path / "site", mosquitto.port, extra=FOREIGN))
    home.start()
    yield home
    home.service.stop()


def test_each_bad_message_has_its_own_outcome_and_the_daemon_goes_on(house: House, mosquitto: Mosquitto) -> None:
    base = now_ms() - 60 * MINUTE_MS
    cases: list[tuple[bytes, Outcome]] = [
        (pack(base, {"air": 28.5, "rh": 70.0}), Outcome.STORED),
        (pack(base, {"air": 28.5, "rh": 70.0}), Outcome.DUPLICATE),
        (pack(base, {"air": 29.5}), Outcome.CONFLICT),
        (pack(base - 5 * MINUTE_MS, {"air": 28.4}), Outcome.STORED),  # out of order
        (b'{"air": 28.5', Outcome.MALFORMED),
        (b"", Outcome.MALFORMED),
        (bytes(range(256)), Outcome.MALFORMED),
        (b"[" * 5000, Outcome.MALFORMED),
        (b"28.5", Outcome.MALFORMED),
        (b'[{"n":"air","u":"Cel","v":NaN}]', Outcome.NOT_A_NUMBER),
        (b'[{"n":"air","u":"Cel","v":1e999}]', Outcome.NOT_A_NUMBER),
        (b'[{"n":"air","u":"Cel","v":-Infinity}]', Outcome.NOT_A_NUMBER),
        (b'[{"n":"air","u":"degF","v":82.4}]', Outcome.WRONG_UNIT),
        (b'[{"n":"air","v":28.5}]', Outcome.WRONG_UNIT),
        (b'[{"n":"pressure","u":"Pa","v":1013}]', Outcome.UNKNOWN_CHANNEL),
        (pack(now_ms() + 60 * MINUTE_MS, {"air": 28.5}), Outcome.FUTURE_DATED),
        (json.dumps([{"n": "air", "u": "Cel", "v": 28.5, "vd": "x" * 70_000}]).encode(), Outcome.OVERSIZED),
    ]
    probe = Probe(mosquitto.port)
    probe.send(payload for payload, _ in cases)
    probe.send([pack(base, {"air": 28.5})], "clutchwarden/nobody/measure")
    probe.send([b"online"], "clutchwarden/north-air/status", retain=True)
    probe.send([b'{"reading": {"temp": 82.4}}'], "greenhouse/7/state")
    probe.send([pack(base + 30 * MINUTE_MS, {"air": 82.0})])  # said to be °C, and surely °F
    house.settle(len(cases) + 3)  # four more, and the duplicate is none of its own
    probe.close()

    expected = [outcome for _, outcome in cases]
    expected += [Outcome.UNKNOWN_PROBE, Outcome.STATUS, Outcome.STORED, Outcome.STORED]
    assert house.outcomes() == {outcome: expected.count(outcome) for outcome in set(expected)}
    with Journal.open(house.journal_path) as journal, journal.read() as conn:
        kept = messages.newest_kept(conn, 100)
    assert len(kept) == sum(outcome.is_rejected for outcome in expected)
    assert all(message.reason for message in kept)
    stored = house.stored()
    assert [row[2] for row in stored if row[0] == "plug/t"] == [pytest.approx(28.0)]
    [hot] = [row for row in stored if row[2] == 82.0]
    assert Quality(hot[3]) & Quality.OUT_OF_RANGE
    assert house.service.running


def test_a_retained_reading_without_a_fresh_time_is_not_taken_for_a_new_one(house: House, mosquitto: Mosquitto) -> None:
    probe = Probe(mosquitto.port)
    probe.send([pack(now_ms() - 180 * MINUTE_MS, {"air": 28.5})], MEASURE, retain=True)
    house.settle(1)
    assert house.outcomes() == {Outcome.STORED: 1}  # it came live, with its own time
    house.service.stop()
    house.start()  # a new subscription brings the retained message again, marked as retained
    house.settle(2)
    probe.close()
    assert house.outcomes() == {Outcome.STORED: 1, Outcome.RETAINED_STALE: 1}
