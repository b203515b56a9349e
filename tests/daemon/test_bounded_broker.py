"""The inner broker holds no more connections than it may, and a probe that is connected stays."""

import resource
import socket
from contextlib import ExitStack
from pathlib import Path

from daemon.embedded import EmbeddedBroker
from daemon.places import MOST_OF_ONE
from tests.support.household import Probe
from tests.support.processes import free_port, wait_until


def open_files() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def test_a_probe_is_heard_while_more_connections_than_may_be_are_tried() -> None:
    port = free_port()
    broker = EmbeddedBroker("127.0.0.1", port)
    broker.start()
    assert resource.getrlimit(resource.RLIMIT_NOFILE)[0] >= 1_024
    try:
        with ExitStack() as held:
            probe = Probe(port)
            probe.send([b"one"])
            before = open_files()
            tried = 3 * MOST_OF_ONE
            for _ in range(tried):
                held.enter_context(socket.create_connection(("127.0.0.1", port), 10))
            wait_until(lambda: open_files() - before - tried <= MOST_OF_ONE, "those that are too many to be closed")
            probe.send([b"two"])
            probe.close()
    finally:
        broker.stop()
