"""The broker inside the daemon, for a keeper with one machine: amqtt in a thread of its own.

It holds nothing over a restart. What it has acknowledged to a probe and the daemon has not stored yet, usually less
than a second of readings, is lost in a power cut; a broker of its own with a disk keeps that too.
"""

import asyncio
import hmac
import logging
import threading
from dataclasses import dataclass

from amqtt.broker import Broker
from amqtt.contexts import BaseContext
from amqtt.plugins.base import BaseAuthPlugin
from amqtt.session import Session

from daemon.bounded_loop import BoundedLoop
from daemon.descriptors import descriptors
from daemon.places import bounds_within

log = logging.getLogger("clutchwarden.broker")

START_SECONDS = 15.0


class EmbeddedBrokerError(Exception):
    """The inner broker could not start; the text says why and what to do."""


class CredentialCheck(BaseAuthPlugin):  # type: ignore[misc]  # the library carries no types
    """Lets in who gives the user name and password of the settings; everybody where none is set."""

    @dataclass
    class Config:
        """What amqtt hands to the plugin."""

        username: str | None = None
        password: str | None = None

    def __init__(self, context: BaseContext) -> None:
        super().__init__(context)
        self._username: str | None = self._get_config_option("username", None)
        self._password: str | None = self._get_config_option("password", None)

    async def authenticate(self, *, session: Session) -> bool:
        """True where the session may connect. Compared in constant time."""
        if self._username is None:
            return True
        same_name = hmac.compare_digest((session.username or "").encode(), self._username.encode())
        same_password = hmac.compare_digest((session.password or "").encode(), (self._password or "").encode())
        return same_name and same_password


class EmbeddedBroker:
    """Start and stop the inner broker from ordinary code."""

    def __init__(self, host: str, port: int, username: str | None = None, password: str | None = None) -> None:
        self._address = f"{host}:{port}"
        self._port = port
        self._configuration = {
            "listeners": {"default": {"type": "tcp", "bind": self._address}},
            "plugins": {"daemon.embedded.CredentialCheck": {"username": username, "password": password}},
        }
        self._started = threading.Event()
        self._failure: BaseException | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._asked_to_stop: asyncio.Event | None = None
        self._thread = threading.Thread(target=self._run, name="embedded-broker", daemon=True)

    def start(self) -> None:
        """Start, and return when probes can connect. Raises EmbeddedBrokerError where that fails."""
        # Its own log speaks to the makers of brokers; what a keeper needs is raised here.
        logging.getLogger("amqtt").setLevel(logging.CRITICAL)
        logging.getLogger("transitions").setLevel(logging.ERROR)
        self._thread.start()
        if not self._started.wait(START_SECONDS) or self._failure is not None:
            raise EmbeddedBrokerError(
                f"The inner broker cannot listen on {self._address}: {self._failure or 'it did not start in time'}. "
                f"If another broker uses port {self._port}, set embedded = false in [broker] of settings.toml and use "
                "that one, or choose another port."
            ) from self._failure

    def stop(self, seconds: float = 10.0) -> None:
        """End it; does nothing where it is not running."""
        if self._loop is not None and self._asked_to_stop is not None and self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._asked_to_stop.set)
            self._thread.join(seconds)

    def _run(self) -> None:
        try:
            bounds = bounds_within(descriptors())
            with asyncio.Runner(loop_factory=lambda: BoundedLoop(bounds, "Inner broker")) as runner:
                runner.run(self._serve())
        except BaseException as error:  # noqa: BLE001 - handed to whoever waits in start()
            self._failure = error.__cause__ or error
        finally:
            self._started.set()

    async def _serve(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._asked_to_stop = asyncio.Event()
        broker = Broker(self._configuration)
        await broker.start()
        self._started.set()
        try:
            await self._asked_to_stop.wait()
        finally:
            await broker.shutdown()
            if isinstance(self._loop, BoundedLoop):
                await self._loop.let_go()
