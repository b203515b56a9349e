"""The broker inside the daemon, for a keeper with one machine: amqtt in a thread of its own.

It holds nothing over a restart. What it has acknowledged to a probe and the daemon has not stored yet, usually less
than a second of readings, is lost in a power cut; a broker of its own with a disk keeps that too.
"""

import asyncio
import hashlib
import hmac
import logging
import secrets
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import amqtt.broker
from amqtt.broker import Broker
from amqtt.contexts import Action, BaseContext
from amqtt.mqtt.protocol.broker_handler import BrokerProtocolHandler
from amqtt.plugins.base import BaseAuthPlugin, BaseTopicPlugin
from amqtt.session import Session

from config.settings import BrokerSettings
from daemon.bounded_loop import BoundedLoop
from daemon.descriptors import descriptors
from daemon.enrol_inner import InnerAccounts, is_own_client, is_own_topic
from daemon.enrol_passwords import is_right
from daemon.places import bounds_within

log = logging.getLogger("clutchwarden.broker")

START_SECONDS = 15.0
_SESSION_KEPT_S = 86_400
"""Of who was let in and comes no more; without it one that comes with another client id each time fills the memory."""


class EmbeddedBrokerError(Exception):
    """The inner broker could not start; the text says why and what to do."""


class _OwnSessions(BrokerProtocolHandler):  # type: ignore[misc]
    """Keeps a session under user name and password too, so that nobody else can name it.

    The library hands a session over to whoever comes with its client id, before it asks for a password: he ends that
    connection, and the last will that he brought is published in its name, to any topic.
    """

    _key = secrets.token_bytes(32)

    @classmethod
    async def init_from_connect(cls, *arguments: Any, **named: Any) -> tuple[BrokerProtocolHandler, Session]:
        """Read who comes, and give his session the name that it is kept under."""
        handler, session = await super().init_from_connect(*arguments, **named)
        session.said_id = session.client_id
        said = [
            each.encode("utf-8", "replace") for each in (session.client_id, session.username, session.password) if each
        ]
        named_by = b"".join(b"%d:%b" % (len(each), each) for each in said)
        session.client_id = hashlib.blake2b(named_by, key=cls._key, digest_size=16).hexdigest()
        return handler, session


# The library offers no place for it. Where a newer one is built otherwise, the test of a forged last will fails.
amqtt.broker.BrokerProtocolHandler = _OwnSessions


class _ForgetfulBroker(Broker):  # type: ignore[misc]
    """Keeps nothing of who was turned away; the library keeps a session of 40 kB for each, for as long as it runs."""

    async def _handle_client_session(self, reader: Any, writer: Any, client_session: Session, *rest: Any) -> None:
        try:
            await super()._handle_client_session(reader, writer, client_session, *rest)
        finally:
            if not hasattr(client_session, "proven"):
                await self._cleanup_session(client_session.client_id)


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
        if self._username is not None:
            same_name = hmac.compare_digest((session.username or "").encode(), self._username.encode())
            same_password = hmac.compare_digest((session.password or "").encode(), (self._password or "").encode())
            if not (same_name and same_password):
                return False
        session.proven = (session.username or "", None)
        return True


class Doorkeeper(CredentialCheck, BaseTopicPlugin):  # type: ignore[misc]
    """Lets in enrolled probes too, each with a name of its own, and has them send to their own topics and hear nothing.

    Who somebody is goes by what was proven when he came in, and not by the name that the session holds.
    """

    @dataclass
    class Config:
        """What amqtt hands to the plugin. `accounts`: the file of enrolled probes."""

        username: str | None = None
        password: str | None = None
        accounts: str = ""

    def __init__(self, context: BaseContext) -> None:
        super().__init__(context)
        self._accounts = InnerAccounts(Path(self._get_config_option("accounts", "")))

    async def authenticate(self, *, session: Session) -> bool:
        """True where the session may connect, by the settings or as an enrolled probe."""
        name, password = session.username or "", session.password or ""
        if await super().authenticate(session=session):
            return True
        stored = self._accounts.stored(name)
        if name == self._username or stored is None or not is_right(stored, password):
            return False
        if not is_own_client(name, session.said_id):
            log.warning("Probe %s was turned away: its client id is that of another probe.", name)
            return False
        if session.will_flag and not is_own_topic(name, session.will_topic):
            log.warning("Probe %s was turned away: its last will goes to a topic that is not its own.", name)
            return False
        session.proven = (name, stored)
        return True

    async def topic_filtering(
        self, *, session: Session | None = None, topic: str | None = None, action: Action | None = None
    ) -> bool:
        """True where this topic may be sent to, or heard."""
        name, stored = getattr(session, "proven", ("", ""))
        if stored is None:
            return True
        if action != Action.PUBLISH or not is_own_topic(name, topic):
            return False
        # Dismissed, or given a new password, since it came in.
        return bool(self._accounts.stored(name) == stored)


def own_place(broker: BrokerSettings) -> BrokerSettings:
    """Give the settings by which the daemon connects: at the inner broker with a client id that nobody can guess.

    The library hands a session over to whoever names its client id, before it asks for a password. It keeps nothing
    over a restart, so nothing is lost by a new one.
    """
    if not broker.embedded:
        return broker
    return broker.model_copy(update={"client_id": f"{broker.client_id}-{secrets.token_hex(12)}"})


class EmbeddedBroker:
    """Start and stop the inner broker from ordinary code. `accounts`: the file of enrolled probes."""

    def __init__(
        self,
        host: str,
        port: int,
        username: str | None = None,
        password: str | None = None,
        accounts: Path | None = None,
    ) -> None:
        self._address = f"{host}:{port}"
        self._port = port
        plugin: dict[str, object] = {"username": username, "password": password}
        # Without a user name everybody on this machine may come in, and there is nothing to tell apart.
        guarded = accounts is not None and username is not None
        self._configuration = {
            "listeners": {"default": {"type": "tcp", "bind": self._address}},
            "session_expiry_interval": _SESSION_KEPT_S,
            "plugins": {"daemon.embedded.Doorkeeper": {**plugin, "accounts": str(accounts)}}
            if guarded
            else {"daemon.embedded.CredentialCheck": plugin},
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
        broker = _ForgetfulBroker(self._configuration)
        await broker.start()
        self._started.set()
        try:
            await self._asked_to_stop.wait()
        finally:
            await broker.shutdown()
            if isinstance(self._loop, BoundedLoop):
                await self._loop.let_go()
