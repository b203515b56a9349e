"""The MQTT library's client on a socket that is read in large pieces and may be written in large pieces.

The MQTT library asks the system for one byte, one byte and the rest of every packet, and sends every acknowledgement by
itself. Each of those calls gives up the interpreter's lock and has to win it back from the threads that store and
evaluate. Behind this wrapper a hundred packets cost one call.
"""

import contextlib
import socket
import ssl
from collections.abc import Iterator
from typing import Any

import paho.mqtt.client as paho

from config.secret_file import seen
from config.settings import BrokerSettings
from sensors.secured import Tls, context

_PIECE_BYTES = 65_536
_NOT_NOW = (BlockingIOError, ssl.SSLWantReadError, ssl.SSLWantWriteError)


class BufferedSocket:
    """The part of a socket that the MQTT library uses; whatever else is asked goes to the socket itself."""

    def __init__(self, raw: socket.socket) -> None:
        self._raw = raw
        self._read = b""
        self._position = 0
        self._unsent = bytearray()
        self._holding = False

    def recv(self, size: int) -> bytes:
        """Up to `size` bytes: from what was read ahead, else from the socket, and then whatever that raises.

        BlockingIOError (with TLS `ssl.SSLWantReadError`) says that nothing has arrived, another OSError that the
        connection is gone.
        """
        if self._position >= len(self._read):
            self._read, self._position = self._raw.recv(max(size, _PIECE_BYTES)), 0
        start = self._position
        piece = self._read[start : start + size]
        self._position = start + len(piece)
        return piece

    def pending(self) -> int:
        """Bytes that can be read without looking at the socket; a wait for the socket would not see them."""
        inside_tls = getattr(self._raw, "pending", None)
        return len(self._read) - self._position + (inside_tls() if inside_tls else 0)

    def send(self, data: bytes | bytearray) -> int:
        """Take `data` for sending, in order; gives how much of it was taken.

        Raises BlockingIOError (with TLS `ssl.SSLWantWriteError`) where earlier data still waits.
        """
        if not self._holding:
            self.flush()
            if not self._unsent:
                return self._raw.send(data)
        self._unsent += data
        return len(data)

    def flush(self) -> None:
        """Send what is held back, as far as the system takes it."""
        while self._unsent:
            sent = self._raw.send(self._unsent)
            del self._unsent[:sent]

    def settle(self) -> None:
        """Send what is held back where the system takes it now; what is left stays for the next call."""
        with contextlib.suppress(*_NOT_NOW):
            self.flush()

    def fileno(self) -> int:
        """The descriptor to wait for."""
        return self._raw.fileno()

    @contextlib.contextmanager
    def together(self) -> Iterator[None]:
        """Hold what is sent inside the block and send it at its end, in one piece."""
        self._holding = True
        try:
            yield
        finally:
            self._holding = False
            self.settle()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._raw, name)


class BufferedClient(paho.Client):
    """The library's client, with the wrapper around every connection that it makes."""

    def _create_socket(self) -> Any:
        made: Any = super()._create_socket()
        return BufferedSocket(made)

    @property
    def pieces(self) -> BufferedSocket | None:
        """The connection while there is one."""
        connection: Any = self.socket()
        return connection if isinstance(connection, BufferedSocket) else None


def introduce(client: paho.Client, broker: BrokerSettings, password: str | None) -> None:
    """Give a client the name, the password and the certificates of the settings."""
    if broker.username is not None:
        client.username_pw_set(broker.username, password)
    if broker.tls:
        client.tls_set_context(context(tls_of(broker)))


def tls_of(broker: BrokerSettings) -> Tls:
    """Give the files that TLS needs, where they can be opened."""
    files = (broker.ca_file, broker.certificate_file, broker.key_file)
    return Tls(*(None if file is None else seen(file) for file in files))
