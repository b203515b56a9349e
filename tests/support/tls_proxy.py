"""A reverse proxy with TLS for a test: it takes https, passes on by http, and says who asked, as such proxies do.

It answers one request for each connection, speaks to the pages from an address of its own, and adds the address of
whoever asked behind what that one said of itself (as X-Forwarded-For is written by common practice, no source).
"""

import asyncio
import contextlib
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

_END = b"\r\n\r\n"
_LARGEST_HEAD = 65_536
_OWN = (b"connection:", b"x-forwarded-for:", b"x-forwarded-proto:")
_START_S = 10.0


@dataclass(frozen=True, slots=True)
class TlsProxy:
    """Where it listens, what it passes on to, and from which address it does."""

    folder: Path
    port: int
    pages_port: int
    address: str

    async def serve(self, ready: threading.Event, ending: asyncio.Event) -> None:
        """Serve until it is to end."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(self.folder / "server.pem", self.folder / "server.key")
        async with await asyncio.start_server(self._answer, "127.0.0.1", self.port, ssl=context):
            ready.set()
            await ending.wait()

    async def _answer(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError, asyncio.IncompleteReadError):
            head = await reader.readuntil(_END)
            asked_by = str(writer.get_extra_info("peername")[0])
            inside, outside = await asyncio.open_connection(
                "127.0.0.1", self.pages_port, local_addr=(self.address, 0), limit=_LARGEST_HEAD
            )
            outside.write(_passed_on(head, asked_by) + await reader.readexactly(_length(head)))
            await outside.drain()
            writer.write(await inside.read())
            await writer.drain()
            outside.close()
        writer.close()
        with contextlib.suppress(OSError):
            await writer.wait_closed()


def _passed_on(head: bytes, asked_by: str) -> bytes:
    lines = head.removesuffix(_END).split(b"\r\n")
    said = b"".join(line.partition(b":")[2].strip() + b", " for line in lines if line.lower().startswith(_OWN[1]))
    kept = [line for line in lines if not line.lower().startswith(_OWN)]
    kept += [b"X-Forwarded-For: " + said + asked_by.encode(), b"X-Forwarded-Proto: https", b"Connection: close"]
    return b"\r\n".join(kept) + _END


def _length(head: bytes) -> int:
    lines = (line.partition(b":") for line in head.lower().split(b"\r\n"))
    return next((int(value) for name, _, value in lines if name == b"content-length"), 0)


@contextmanager
def tls_proxy(folder: Path, port: int, pages_port: int, address: str) -> Iterator[str]:
    """Run one in a thread, with the certificates of a folder; gives the address that browsers use."""
    proxy = TlsProxy(folder, port, pages_port, address)
    ready, loop, ending = threading.Event(), asyncio.new_event_loop(), asyncio.Event()
    thread = threading.Thread(target=lambda: loop.run_until_complete(proxy.serve(ready, ending)), name="proxy")
    thread.start()
    try:
        assert ready.wait(_START_S), "the proxy did not come up"
        yield f"https://localhost:{port}"
    finally:
        loop.call_soon_threadsafe(ending.set)
        thread.join(_START_S)
        loop.close()
