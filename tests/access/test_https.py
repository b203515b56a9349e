"""Pages by https from the server itself, and the word of a proxy before them."""

import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI, Request

from dashboards.server import PageServer
from tests.support.certificates import make_certificates


def echo() -> FastAPI:
    """Says who asks and how, as the app sees it."""
    app = FastAPI()
    app.state.closing = threading.Event()

    @app.get("/")
    def who(request: Request) -> dict[str, str]:
        assert request.client is not None
        return {"address": request.client.host, "scheme": request.url.scheme}

    return app


@contextmanager
def served(certificate: tuple[Path, Path] | None = None, proxies: tuple[str, ...] = ()) -> Iterator[str]:
    server = PageServer(echo(), "127.0.0.1", 0, certificate=certificate, trusted_proxies=proxies)
    yield server.start()
    server.stop()


@pytest.mark.services
def test_with_a_certificate_the_pages_speak_https_alone(tmp_path: Path) -> None:
    folder = make_certificates(tmp_path / "certificates")
    trusting = ssl.create_default_context(cafile=str(folder / "ca.pem"))
    with served((folder / "server.pem", folder / "server.key")) as url:
        assert url.startswith("https://127.0.0.1:")
        assert httpx.get(url, verify=trusting).json() == {"address": "127.0.0.1", "scheme": "https"}
        with pytest.raises(httpx.TransportError):
            httpx.get(url.replace("https", "http"))
        with pytest.raises(httpx.ConnectError, match=r"(?i)certificate"):
            httpx.get(url)


PASSED_ON = {"X-Forwarded-For": "203.0.113.7", "X-Forwarded-Proto": "https"}


@pytest.mark.parametrize(
    ("proxies", "seen"),
    [
        ((), {"address": "127.0.0.1", "scheme": "http"}),
        (("192.0.2.1",), {"address": "127.0.0.1", "scheme": "http"}),
        (("127.0.0.1", "::1"), {"address": "203.0.113.7", "scheme": "https"}),
        (("127.0.0.0/8",), {"address": "203.0.113.7", "scheme": "https"}),
    ],
)
def test_who_asks_is_believed_from_a_stated_proxy_alone(proxies: tuple[str, ...], seen: dict[str, str]) -> None:
    with served(proxies=proxies) as url:
        assert httpx.get(url, headers=PASSED_ON).json() == seen
