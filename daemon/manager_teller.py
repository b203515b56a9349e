"""Tells the service manager now and then, in a sentence, how the watch stands. It feeds no watchdog."""

import contextlib
import logging
import threading
from collections.abc import Callable

from config.notify import Notifier
from daemon.manager_text import status_sentence
from daemon.overview import Overview

log = logging.getLogger("clutchwarden")

EVERY_S = 20.0
FIRST_S = 1.0


def tell_manager(manager: Notifier, overview: Callable[[], Overview], ending: contextlib.ExitStack) -> None:
    """Tell it until the daemon ends, where there is a manager that listens."""
    teller = ManagerTeller(manager, overview)
    if manager.listens:
        teller.start()
        ending.callback(teller.stop)


class ManagerTeller:
    """A thread of its own: neither a slow journal nor a slow manager holds up anything else."""

    def __init__(self, manager: Notifier, overview: Callable[[], Overview]) -> None:
        self._manager = manager
        self._overview = overview
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="manager-status", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End; a sentence under way is not waited for."""
        self._stopping.set()

    def _run(self) -> None:
        pause_s = FIRST_S
        while not self._stopping.wait(pause_s):
            pause_s = EVERY_S
            try:
                sentence = status_sentence(self._overview())
            except Exception as error:  # noqa: BLE001 - whatever it is, it is told by those who look for it
                sentence = "Running; how the watch stands cannot be read at the moment."
                log.debug("No sentence for the service manager: %s", error)
            if not self._stopping.is_set():
                self._manager.status(sentence)
