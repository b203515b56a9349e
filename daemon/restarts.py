"""The daemon in one process, for as long as it is wanted: when the site was changed it ends in order and starts anew.

What was stated before is good for something: where the daemon cannot start with what is stated now, it goes on with
that, and says so.
"""

import logging
import time
from collections.abc import Callable
from queue import Empty, SimpleQueue
from typing import Protocol

from daemon.stated import Stated

log = logging.getLogger("clutchwarden")

TRIES = 5
_PAUSE_S = 1.0
_GOES_ON = "Clutchwarden goes on with what was stated before. Mend it (clutchwarden check says what), then start anew."


class Running(Protocol):
    """A daemon, as far as it is started and ended here."""

    def start(self) -> None:
        """Start every part; raises where one cannot."""

    def stop(self) -> None:
        """End every part."""

    def remark(self, sentence: str) -> None:
        """Show a trouble on the pages until the next start."""


class Restarts:
    """What is wished of the daemon: a new start, or an end. Safe to use from several threads and signal handlers.

    A handler may interrupt another in any line of Python, also one that holds a lock: an Event would then wait for
    itself. The documentation of `queue` promises of SimpleQueue alone that its `put` may be called from there.
    """

    def __init__(self) -> None:
        self._wishes: SimpleQueue[None] = SimpleQueue()
        self._over = False

    def wish(self) -> None:
        """Ask for a new start with what is stated by then."""
        self._wishes.put(None)

    def end(self) -> None:
        """Ask for the end."""
        self._over = True
        self._wishes.put(None)

    @property
    def over(self) -> bool:
        """True once the end was asked for."""
        return self._over

    def wait(self) -> bool:
        """Wait for a wish: True for a new start, False for the end. Several wishes by then are one."""
        self._wishes.get()
        while not self._wishes.empty():
            self._wishes.get()
        return not self._over

    def over_within(self, seconds: float) -> bool:
        """Wait, at the most so long, for the end. A wish for a new start that comes meanwhile is kept."""
        until, wished = time.monotonic() + seconds, False
        while not self._over and (left := until - time.monotonic()) > 0:
            try:
                self._wishes.get(timeout=left)
            except Empty:
                break
            wished = True
        if wished:
            self._wishes.put(None)
        return self._over


def keep_running(
    stated: Stated, load: Callable[[], Stated], make: Callable[[Stated], Running], restarts: Restarts
) -> None:
    """Run until the end is asked for. Raises what keeps the daemon from its first start."""
    service = make(stated)
    service.start()
    try:
        while restarts.wait():
            try:
                new = load()
            except Exception as error:  # noqa: BLE001 - whatever is wrong with the files, the eggs are watched
                # It runs, and goes on running: there is nothing to stop it for.
                service.remark(_told("The site was changed, but cannot be used", error))
                continue
            log.info("The site was changed: starting anew.")
            _stop(service)
            service, stated = _started(new, stated, make, restarts)
    finally:
        _stop(service)


def _started(
    new: Stated, before: Stated, make: Callable[[Stated], Running], restarts: Restarts
) -> tuple[Running, Stated]:
    service = make(new)
    try:
        service.start()
    except Exception as error:  # noqa: BLE001 - whatever it is, the eggs are watched as before
        sentence = _told("The site was changed, but clutchwarden cannot start with it", error)
    else:
        return service, new
    for left in range(TRIES, 0, -1):
        service = make(before)
        try:
            service.start()
        except Exception as error:
            log.error("Clutchwarden cannot start with what was stated before either: %s", error)  # noqa: TRY400
            if left == 1 or restarts.over_within(_PAUSE_S):
                raise
        else:
            service.remark(sentence)
            return service, before
    raise AssertionError("the last try starts or raises")


def _stop(service: Running) -> None:
    try:
        service.stop()
    except Exception:
        # The next start tells whether anything is still held.
        log.exception("A part of clutchwarden did not end in good order")


def _told(what: str, error: BaseException) -> str:
    log.error("%s: %s", what, error)
    why = " ".join(str(error).split())
    return f"{what}: {why} {_GOES_ON}"
