"""How slow somebody may be, and how many may be here at once: connections, streams, and what is no request."""

import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from threading import Event
from urllib.parse import urlsplit

import httpx
import pytest
from fastapi import FastAPI, Request
from fastapi.responses import StreamingResponse

from daemon.places import MOST_OF_ONE, Places, bounds_within
from dashboards.feed import MOST_OF_ONE_VISITOR, MOST_STREAMS
from dashboards.patience import PatientProtocol
from dashboards.server import PageServer
from tests.dashboards import samples
from tests.dashboards.asking import pages as pages_of
from tests.support.processes import wait_until

SHORT_S = 0.4


def test_places_are_bounded_in_all_and_of_one_address_but_not_of_a_proxy() -> None:
    places = Places(bounds_within(400, ["10.0.0.0/8", "2001:db8::1"]))
    assert [places.take("192.0.2.1") for _ in range(67)] == [True] * 66 + [False]
    assert all(places.take("10.1.2.3") for _ in range(30))
    assert [places.take("192.0.2.2") for _ in range(5)] == [True] * 4 + [False]
    assert places.held == 100
    places.leave("192.0.2.1")
    assert places.take("192.0.2.1")


def test_one_ipv6_site_counts_as_one_address() -> None:
    places = Places(bounds_within(400))
    # 2001:db8::/32 is kept for documentation (RFC 3849); a site has a /64 (RFC 4291 section 2.5.4).
    assert all(places.take(f"2001:db8::{number:x}") for number in range(66))
    assert not places.take("2001:db8::ffff")
    assert places.take("2001:db8:0:1::1")


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """As the pages are, but with less patience."""
    for name in ("head_s", "body_s", "reading_s"):
        monkeypatch.setattr(PatientProtocol, name, SHORT_S)


@pytest.fixture
def url(impatient: None) -> Iterator[str]:
    app = FastAPI()
    app.state.closing = Event()

    @app.get("/endless")
    def endless() -> StreamingResponse:
        return StreamingResponse(b"x" * 65_536 for _ in range(100_000))

    app.post("/body")(_length_of_body)
    server = PageServer(app, "127.0.0.1", 0)
    yield server.start()
    server.stop()


async def _length_of_body(request: Request) -> int:
    return len(await request.body())


def connected(url: str, come_from: str = "127.0.0.1") -> socket.socket:
    address = urlsplit(url)
    return socket.create_connection((str(address.hostname), address.port or 0), 10, (come_from, 0))


def is_cut_off(connection: socket.socket) -> bool:
    try:
        return connection.recv(1) == b""
    except ConnectionError:
        return True


def test_a_head_that_comes_byte_by_byte_is_not_waited_for(url: str) -> None:
    began_s = time.monotonic()
    with connected(url) as connection:
        connection.settimeout(0.05)
        wait_until(lambda: not takes_another_byte(connection), "the server to cut it off", 10)
        assert SHORT_S * 0.9 <= time.monotonic() - began_s < 5


def takes_another_byte(connection: socket.socket) -> bool:
    try:
        connection.sendall(b"G")
        return connection.recv(1) != b""
    except TimeoutError:
        return True
    except ConnectionError:
        return False


def test_a_body_that_stands_still_is_not_waited_for(url: str) -> None:
    with connected(url) as connection:
        connection.sendall(b"POST /body HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 100\r\n\r\nxx")
        assert is_cut_off(connection)


def test_a_body_that_goes_on_slowly_is_taken(url: str) -> None:
    """Twice as long as the patience in all. Where this side itself stood still too long, it is sent once more."""
    pause = Event()
    sent_s: list[float] = []

    def slow() -> Iterator[bytes]:
        for _ in range(8):
            pause.wait(SHORT_S / 4)
            sent_s.append(time.monotonic())
            yield b"x"

    def is_taken() -> bool:
        sent_s[:] = [time.monotonic()]
        try:
            length = httpx.post(f"{url}body", content=slow(), timeout=10).json()
        except httpx.TransportError:
            sent_s.append(time.monotonic())
            # A byte leaves somewhere between its own time and the next one's, so the pause before it is no longer
            # than the time over two.
            if all(later_s - earlier_s < SHORT_S for earlier_s, later_s in zip(sent_s, sent_s[2:], strict=False)):
                raise
            return False
        assert length == 8
        return True

    wait_until(is_taken, "a body that goes on without a longer pause")


def test_who_takes_nothing_of_the_answer_is_cut_off(url: str) -> None:
    with connected(url) as connection:
        connection.sendall(b"GET /endless HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        # As long as nothing is read nothing can be told from here; the server's end goes away by itself.
        port = connection.getsockname()[1]
        wait_until(lambda: not is_served(port), "the server to let go", 10)


def is_served(port: int) -> bool:
    """True while this process holds the server's end of the connection from this port (proc(5), /proc/net/tcp)."""
    lines = Path("/proc/net/tcp").read_text(encoding="ascii").splitlines()[1:]
    return any(line.split()[2].endswith(f":{port:04X}") and line.split()[3] == "01" for line in lines)


def test_an_event_stream_outlives_all_patience(impatient: None) -> None:
    server = PageServer(pages_of(samples.overview()), "127.0.0.1", 0)
    began_s = time.monotonic()
    with httpx.stream("GET", f"{server.start()}events", timeout=10) as stream:
        heard = 0
        for line in stream.iter_lines():
            heard += line.startswith("event: ")
            if heard == 3:
                break
    server.stop()
    assert time.monotonic() - began_s > 2 * SHORT_S


def test_one_visitor_holds_so_many_event_streams_and_no_more() -> None:
    assert MOST_OF_ONE_VISITOR < MOST_STREAMS
    server = PageServer(pages_of(samples.overview()), "127.0.0.1", 0)
    url = server.start()
    try:
        request = b"GET /events HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
        held = []
        for _ in range(MOST_OF_ONE_VISITOR):
            held.append(connected(url))
            held[-1].sendall(request)
            assert held[-1].recv(12) == b"HTTP/1.1 200"
        refused = httpx.get(f"{url}events")
        assert refused.status_code == 429
        assert "Close some" in refused.text
        held.pop().close()

        def is_let_in() -> bool:
            with httpx.stream("GET", f"{url}events") as stream:
                return stream.status_code == 200

        wait_until(is_let_in, "the place that was given back")
        for each in held:
            each.close()
    finally:
        server.stop()


def test_a_newcomer_takes_the_place_of_somebody_who_only_holds_it_and_of_nobody_who_is_answered() -> None:
    server = PageServer(pages_of(samples.overview()), "127.0.0.1", 0)
    url = server.start()
    try:
        with ExitStack() as held, httpx.stream("GET", f"{url}events") as stream:
            lines = stream.iter_lines()
            for come_from in ("127.0.0.2", "127.0.0.3", "127.0.0.4", "127.0.0.5"):
                for _ in range(MOST_OF_ONE):
                    held.enter_context(connected(url, come_from))
            with connected(url, "127.0.0.9") as newcomer:
                newcomer.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
                assert newcomer.recv(12) == b"HTTP/1.1 200"
            assert [line for line, _ in zip(lines, range(9), strict=False)]
    finally:
        server.stop()


def test_requests_that_are_none_fill_no_log(caplog: pytest.LogCaptureFixture) -> None:
    server = PageServer(pages_of(samples.overview()), "127.0.0.1", 0)
    url = server.start()
    try:
        for _ in range(20):
            with connected(url) as connection:
                connection.sendall(b"\x16\x03\x01 no request\r\n\r\n")
                assert connection.recv(12) == b"HTTP/1.1 400"
        upgrade = {"Connection": "Upgrade", "Upgrade": "websocket"}
        for _ in range(20):
            httpx.get(url, headers=upgrade)
    finally:
        server.stop()
    assert len(caplog.records) <= 3
