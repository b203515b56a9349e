"""A broker that lets the daemon in and keeps topics from it: a keeper hears which, and the others are heard."""

import getpass
import json
import logging
from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

import pytest
from paho.mqtt import publish

from config.settings import BrokerSettings
from daemon.arrival import Arrival
from daemon.mqtt import Listener
from sensors.decoder import Decoder
from sensors.reading import Decoded
from tests.conftest import require
from tests.sensors.example_site import SITE
from tests.support.mosquitto import program
from tests.support.processes import Service, answers, free_port, wait_until

pytestmark = pytest.mark.services

PLUGIN = next(Path("/usr/lib").glob("*/mosquitto_dynamic_security.so"), None)
OWN, FOREIGN = "clutchwarden/+/measure", "barn/#"
LONG = 60.0


class Keeping:
    """Takes whatever comes."""

    def __init__(self) -> None:
        self.topics: list[str] = []
        self._decoder = Decoder(SITE)

    def decode(self, topic: str, payload: bytes, retained: bool, received_at_ms: int) -> Decoded:
        self.topics.append(topic)
        return self._decoder.decode(topic, payload, retained, received_at_ms)

    def commit(self, arrivals: Sequence[Arrival]) -> "Future[None]":  # noqa: ARG002 - what is in it is all one here
        done: Future[None] = Future()
        done.set_result(None)
        return done


@contextmanager
def broker(folder: Path, readable: Sequence[str]) -> Iterator[int]:
    """Mosquitto with rules of access: of what somebody asks for only these topics are allowed. Gives its port."""
    rules = [{"acltype": "subscribeLiteral", "topic": topic, "priority": 0, "allow": True} for topic in readable]
    access = dict.fromkeys(("publishClientSend", "publishClientReceive", "unsubscribe"), True) | {"subscribe": False}
    stated = {
        "defaultACLAccess": access,
        "anonymousGroup": "all",
        "groups": [{"groupname": "all", "roles": [{"rolename": "reader"}]}],
        "roles": [{"rolename": "reader", "acls": rules}],
        "clients": [],
    }
    (folder / "access.json").write_text(json.dumps(stated))
    port = free_port()
    (folder / "mosquitto.conf").write_text(
        f"listener {port} 127.0.0.1\nallow_anonymous true\nuser {getpass.getuser()}\n"
        f"plugin {PLUGIN}\nplugin_opt_config_file {folder / 'access.json'}\n"
    )
    executable = require(program() if PLUGIN else None, "Mosquitto with its rules of access")
    service = Service([executable, "-c", str(folder / "mosquitto.conf")], folder / "broker.log")
    service.start()
    try:
        wait_until(lambda: answers(port), service.output(), LONG)
        yield port
    finally:
        service.stop()


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_broker_that_keeps_all_from_the_daemon_counts_as_none(
    tmp_path: Path, protocol: Literal["5", "3.1.1"], caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.WARNING, "clutchwarden.broker")
    with broker(tmp_path, ()) as port:
        settings = BrokerSettings.model_validate({"port": port, "protocol": protocol})
        listener = Listener(settings, None, [OWN], Keeping(), lambda: 0)
        listener.start()
        wait_until(lambda: OWN in listener.state.detail, "word of it", LONG)
        assert not listener.state.connected
        assert listener.stop()
    assert f"No broker: the broker does not let this user read {OWN} (" in caplog.text
    assert caplog.text.count("No broker") == 1


def test_what_else_may_be_heard_is_heard(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.WARNING, "clutchwarden.broker")
    keeping = Keeping()
    with broker(tmp_path, [OWN]) as port:
        listener = Listener(BrokerSettings.model_validate({"port": port}), None, [OWN, FOREIGN], keeping, lambda: 0)
        listener.start()
        wait_until(lambda: listener.state.connected, "the connection", LONG)
        publish.single("clutchwarden/north-air/measure", b"[]", 1, hostname="127.0.0.1", port=port)
        wait_until(lambda: keeping.topics == ["clutchwarden/north-air/measure"], "the message", LONG)
        assert f"connected to 127.0.0.1:{port}, but the broker does not let this user read {FOREIGN} (" in (
            listener.state.detail
        )
        assert listener.stop()
    assert f"the broker does not let this user read {FOREIGN} (not authorized). " in caplog.text
    assert OWN not in caplog.text
