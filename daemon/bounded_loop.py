"""An event loop whose listeners hold no more connections than they may: what is over the bound is closed at once.

A connection costs a file descriptor from the moment it is accepted, long before anybody has said a word, and whoever
has none left can neither open the journal nor send an alert. So it is counted where it is accepted.
"""

import asyncio
import contextlib
import logging
import socket
import time
from typing import Any
from weakref import WeakSet

from daemon.places import Bounds, Places

log = logging.getLogger("clutchwarden.connections")

HANDSHAKE_S = 10.0
"""So long a TLS handshake may take. Project choice."""
BACKLOG = 100
_REFUSED_AT_ONCE = 64
_TOLD_EVERY_S = 600.0


class BoundedLoop(asyncio.SelectorEventLoop):
    """The usual loop of asyncio; all of its listeners share the bounds.

    With `makes_room` a newcomer takes the place of somebody who is `idle`: whoever has just come, and whoever is not
    being answered. Without it whoever is connected stays, as probes do at a broker.
    """

    def __init__(self, bounds: Bounds, about: str, *, makes_room: bool = False) -> None:
        super().__init__()
        self._connections = _Connections(Places(bounds), makes_room=makes_room)
        self._about = about
        self._open_transports: WeakSet[asyncio.Transport] = WeakSet()

    async def let_go(self) -> None:
        """Close every connection that is still open: a server that ends forgets whoever never said a word."""
        for transport in tuple(self._open_transports):
            transport.abort()
        # The loop tells the protocols in its next turn, and gives the descriptors back in the one after.
        await asyncio.sleep(0)
        await asyncio.sleep(0)

    def busy(self, peer: object) -> None:
        """Say that what came from this address and port is being answered."""
        self._connections.busy(peer)

    def idle(self, peer: object) -> None:
        """Say that it was answered, and may ask again."""
        self._connections.idle(peer)

    async def create_server(  # type: ignore[override]  # one form of it is wanted here
        self, protocol_factory: Any, host: str | None = None, port: int | None = None, **more: Any
    ) -> asyncio.Server:
        """Listen at a socket that is given, which this takes over, or at one address."""
        given = more.pop("sock", None)
        listener = await self._listen(host, port) if given is None else given
        more.pop("reuse_address", None)
        if more.get("ssl") is not None:
            more["ssl_handshake_timeout"] = HANDSHAKE_S
        # So many are accepted in one go, before the first of them can be looked at.
        more["backlog"] = BACKLOG
        bounded = BoundedListener(listener, self._connections, self._about)
        return await super().create_server(lambda: self._known(protocol_factory()), sock=bounded, **more)

    def _known(self, protocol: Any) -> Any:
        """Give the protocol, which tells of its transport from here on."""
        made = protocol.connection_made

        def remember(transport: asyncio.Transport) -> None:
            self._open_transports.add(transport)
            made(transport)

        protocol.connection_made = remember
        return protocol

    async def _listen(self, host: str | None, port: int | None) -> socket.socket:
        found = await self.getaddrinfo(host, port or 0, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
        family, _, _, _, address = found[0]
        return socket.create_server(address[:2], family=family)


class _Connections:
    """All that is open, and which of it nobody would miss, the oldest first. Belongs to one loop."""

    def __init__(self, places: Places, *, makes_room: bool) -> None:
        self._places = places
        self._makes_room = makes_room
        self._open: dict[object, _Held] = {}
        self._idle: dict[object, None] = {}

    @property
    def held(self) -> int:
        """How many are open."""
        return self._places.held

    def take(self, accepted: socket.socket, peer: Any) -> "_Held | None":
        """Hold a connection; None where there is no place for it."""
        host = str(peer[0])
        if not self._places.take(host) and not (self._make_room(host) and self._places.take(host)):
            return None
        held = self._open[peer] = _Held(accepted, self, peer)
        self._idle[peer] = None
        return held

    def left(self, peer: Any) -> None:
        """Give the place back. A second time does nothing."""
        self._idle.pop(peer, None)
        if self._open.pop(peer, None) is not None:
            self._places.leave(str(peer[0]))

    def busy(self, peer: object) -> None:
        """From here on it stays."""
        self._idle.pop(peer, None)

    def idle(self, peer: object) -> None:
        """From here on it may have to go."""
        if peer in self._open:
            self._idle.pop(peer, None)
            self._idle[peer] = None

    def _make_room(self, host: str) -> bool:
        """Let go of an idle one, of whoever holds the most; never for somebody who has too many themselves."""
        if not (self._makes_room and self._places.is_full) or self._places.has_enough(host):
            return False
        oldest = max(self._idle, key=lambda peer: self._places.held_by(str(peer[0])), default=None)  # type: ignore[index]
        if oldest is None:
            return False
        held = self._open[oldest]
        self.left(oldest)
        # Whoever serves it sees its end, and closes it.
        with contextlib.suppress(OSError):
            held.shutdown(socket.SHUT_RDWR)
        return True


class BoundedListener(socket.socket):
    """A listening socket that accepts only whom there is a place for. It takes over the socket that it is made of."""

    def __init__(self, listener: socket.socket, connections: _Connections, about: str) -> None:
        # With the protocol named, the loop sends small answers at once.
        super().__init__(listener.family, listener.type, socket.IPPROTO_TCP, fileno=listener.detach())
        self._connections = connections
        self._about = about
        self._told_s = -_TOLD_EVERY_S

    def accept(self) -> tuple[socket.socket, Any]:
        """Accept the next one that may stay; the others are closed on the way. Raises BlockingIOError."""
        for _ in range(_REFUSED_AT_ONCE):
            accepted, peer = super().accept()
            held = self._connections.take(accepted, peer)
            if held is not None:
                return held, peer
            accepted.close()
            self._tell(str(peer[0]))
        # The others wait for the next turn, so that whoever has a place is served meanwhile.
        raise BlockingIOError

    def _tell(self, host: str) -> None:
        if time.monotonic() - self._told_s >= _TOLD_EVERY_S:
            self._told_s = time.monotonic()
            log.warning(
                "%s: a connection from %s was closed at once, since %d are open already. The watch goes on, and alerts "
                "go out. If this comes again, look at what opens so many there",
                self._about,
                host,
                self._connections.held,
            )


class _Held(socket.socket):
    """A connection that gives its place back when it is closed."""

    def __init__(self, accepted: socket.socket, connections: _Connections, peer: object) -> None:
        super().__init__(accepted.family, accepted.type, accepted.proto, fileno=accepted.detach())
        self._connections = connections
        self._peer = peer

    def close(self) -> None:
        """Close it; a second time does nothing."""
        super().close()
        self._connections.left(self._peer)
