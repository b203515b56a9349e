"""The port of the pages, kept open while the daemon starts anew: who comes meanwhile waits a moment and is served."""

import socket
from collections.abc import Callable


class KeptPort:
    """Holds one listening socket. The kernel takes connections in its name also while nobody serves them."""

    def __init__(self) -> None:
        self._held: socket.socket | None = None
        self._asked: tuple[str, int] | None = None

    def lend(self, host: str, port: int, listen: Callable[[], socket.socket]) -> socket.socket:
        """Give a socket that listens there, for whoever serves it to close; `listen` makes one where none is held."""
        if self._held is None or self._asked != (host, port):
            self.close()
            self._held, self._asked = listen(), (host, port)
        return self._held.dup()

    def close(self) -> None:
        """Let go of it."""
        if self._held is not None:
            self._held.close()
        self._held = self._asked = None
