"""The pages over a real socket, in a thread of their own."""

import signal
import socket
import threading
import time
from collections.abc import Iterator

import httpx
import pytest

from daemon.overview import Overview
from daemon.storage.errors import JournalError
from dashboards import feed
from dashboards.app import create_app
from dashboards.server import PageServer, PageServerError
from tests.dashboards import samples
from tests.dashboards.asking import pages
from tests.support.processes import wait_until


@pytest.fixture
def server() -> Iterator[PageServer]:
    server = PageServer(pages(samples.overview()), "127.0.0.1", 0)
    yield server
    server.stop()


def test_the_address_answers_as_soon_as_start_returns(server: PageServer) -> None:
    assert httpx.get(server.start()).status_code == 200


def test_the_signals_stay_with_the_program(server: PageServer) -> None:
    before = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)]
    server.start()
    assert [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)] == before
    assert "pages" in [thread.name for thread in threading.enumerate()]


def test_a_taken_port_is_told_with_what_to_do() -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(PageServerError, match=f"port {port} is taken by another program .* settings.toml"):
            PageServer(pages(samples.overview()), "127.0.0.1", port).start()


def test_an_address_of_another_machine_is_told() -> None:
    # 192.0.2.0/24 is kept for documentation (RFC 5737), so no machine has it.
    with pytest.raises(PageServerError, match=r"192\.0\.2\.1 is not an address of this machine"):
        PageServer(pages(samples.overview()), "192.0.2.1", 0).start()


def test_an_open_event_stream_says_the_version_and_does_not_delay_the_end(
    server: PageServer, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """By itself it would wait for a minute; whoever waits for it for 20 s gives up and says so."""
    monkeypatch.setattr(feed, "POLL_S", 60.0)
    monkeypatch.setattr("dashboards.server._GRACE_S", 20)
    url = server.start()
    with httpx.stream("GET", f"{url}events") as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        lines = stream.iter_lines()
        assert "event: changed" in (next(lines), next(lines), next(lines))
        server.stop()
    assert "timeout graceful shutdown exceeded" not in caplog.text


def test_pages_and_streams_without_a_journal_add_one_line_to_the_log(caplog: pytest.LogCaptureFixture) -> None:
    asked: list[int] = []

    def broken() -> Overview:
        asked.append(1)
        raise JournalError("cannot read the journal", "journal.sqlite3", "the file is damaged", "Use a backup.")

    server = PageServer(create_app(broken), "127.0.0.1", 0)
    url = server.start()
    assert [httpx.get(url).status_code for _ in range(3)] == [503, 503, 503]
    with httpx.stream("GET", f"{url}events") as stream:
        assert stream.status_code == 200
        wait_until(lambda: len(asked) > 3, "the stream to ask for the overview")
        server.stop()
    assert [record.levelname for record in caplog.records] == ["ERROR"]
    assert "Traceback" not in caplog.text


def test_after_stop_the_port_is_free_and_the_same_pages_start_again(server: PageServer) -> None:
    url = server.start()
    server.stop()
    with pytest.raises(httpx.ConnectError):
        httpx.get(url)
    assert httpx.get(server.start()).status_code == 200


def test_a_second_start_is_refused(server: PageServer) -> None:
    server.start()
    with pytest.raises(PageServerError, match="being served already"):
        server.start()


def test_an_answer_does_not_wait_for_the_acknowledgement_of_its_head() -> None:
    """RFC 1122 section 4.2.3.2 lets a receiver put an acknowledgement off; Linux does so for 40 ms at the least."""
    server = PageServer(create_app(samples.overview), "127.0.0.1", 0)
    url = server.start()
    try:
        with httpx.Client() as client:
            client.get(f"{url}health")
            took_s = []
            for _ in range(20):
                began = time.perf_counter()
                client.get(f"{url}health")
                took_s.append(time.perf_counter() - began)
        assert sorted(took_s)[5] < 0.04
    finally:
        server.stop()
