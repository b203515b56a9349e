"""What a probe writes, and how its queue behaves while there is no broker."""

import json
import logging
import math
import socket

import pytest

from sensors.publisher import ProbePublisher, senml_pack
from tests.support.processes import free_port, wait_until

MOMENT_MS = 1_780_000_000_123


def test_a_pack_has_base_time_in_seconds_and_a_record_per_channel() -> None:
    # RFC 8428: "bt" is seconds since the epoch as a number; n, u, v are name, unit, value; Cel and %RH are its units.
    pack = json.loads(senml_pack(MOMENT_MS, {"t": (30.25, "Cel"), "rh": (84.6, "%RH")}))
    assert pack == [
        {"bt": 1_780_000_000.123, "n": "t", "u": "Cel", "v": 30.25},
        {"n": "rh", "u": "%RH", "v": 84.6},
    ]


def test_every_millisecond_survives_the_way_through_json() -> None:
    for measured_at_ms in range(MOMENT_MS, MOMENT_MS + 2_000):
        record = json.loads(senml_pack(measured_at_ms, {"t": (30.0, "Cel")}))[0]
        assert round(record["bt"] * 1000) == measured_at_ms


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_value_that_is_no_number_is_refused_with_its_channel(value: float) -> None:
    with pytest.raises(ValueError, match="value of rh is"):
        senml_pack(MOMENT_MS, {"t": (30.0, "Cel"), "rh": (value, "%RH")})


def test_a_pack_without_values_is_refused() -> None:
    with pytest.raises(ValueError, match="no value to send"):
        senml_pack(MOMENT_MS, {})


def test_a_full_queue_gives_up_the_oldest_counts_it_and_says_so(caplog: pytest.LogCaptureFixture) -> None:
    publisher = ProbePublisher("north-air", "127.0.0.1", free_port(), queue_limit=3)
    with caplog.at_level(logging.WARNING, "clutchwarden.probe"):
        for second in range(5):
            publisher.publish(MOMENT_MS + second * 1000, {"t": (30.0 + second, "Cel")})
    assert publisher.waiting == 3
    assert publisher.dropped == 2
    assert [json.loads(payload)[0]["v"] for payload in publisher._waiting.values()] == [32.0, 33.0, 34.0]
    told = [record.getMessage() for record in caplog.records]
    assert len(told) == 1
    assert "1 of the oldest readings had to be given up; the queue holds 3" in told[0]
    publisher.stop()


def test_without_a_broker_flush_says_no_and_the_failure_is_told_once(caplog: pytest.LogCaptureFixture) -> None:
    publisher = ProbePublisher(
        "north-air", "127.0.0.1", free_port(), username="north", password="hush-hush", pause_s=(0.01, 0.01)
    )
    attempts = 0
    connect = publisher._attempt

    def counted() -> str:
        nonlocal attempts
        attempts += 1
        return connect()

    publisher._attempt = counted  # type: ignore[method-assign]
    with caplog.at_level(logging.DEBUG):
        publisher.start()
        publisher.publish(MOMENT_MS, {"t": (30.0, "Cel")})
        wait_until(lambda: attempts > 3, "four attempts to connect")
        assert publisher.flush(0.0) is False
        publisher.stop()
    told = [record.getMessage() for record in caplog.records if "is not connected" in record.getMessage()]
    assert len(told) == 1
    assert "cannot reach 127.0.0.1" in told[0]
    assert any("stopped with 1 readings not sent" in record.getMessage() for record in caplog.records)
    assert "hush-hush" not in caplog.text


def test_a_server_that_hangs_up_at_once_does_not_end_the_thread() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(10)
        publisher = ProbePublisher("north-air", "127.0.0.1", server.getsockname()[1], pause_s=(0.01, 0.01))
        publisher.start()
        for _ in range(3):
            connection, _ = server.accept()
            connection.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n")
            connection.close()
        assert publisher._thread.is_alive()
        assert not publisher.connected
        publisher.stop()
    assert not publisher._thread.is_alive()
