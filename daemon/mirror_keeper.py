"""Copies what the journal gets to the mirror, for as long as the service runs.

A thread of its own at a low priority, with reading connections of its own. After each step it rests for a multiple of
the processor time that this took, so that storing and judging readings keep theirs also while years are copied. How far
it has got is written down every few seconds and not with each batch: after a kill some points are written once more,
which changes nothing there.
"""

import contextlib
import logging
import os
import sqlite3
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from typing import TYPE_CHECKING

from config.errors import ConfigError
from config.mirror import MirrorSettings
from config.site import Site
from daemon.clock import Clock
from daemon.mirror.answers import Answer
from daemon.mirror.backoff import wait_s
from daemon.mirror.errors import MirrorError
from daemon.stated import Stated
from daemon.storage import mirror
from daemon.storage.journal import Journal, JournalError
from daemon.storage.mirror import TargetState

if TYPE_CHECKING:
    from daemon.mirror_pass import Pass

log = logging.getLogger("clutchwarden.mirror")

LOOK_EVERY_S = 5.0
KEEP_EVERY_S = 10.0
RESTS = 49.0
"""It takes one part in 50 of a processor at the most, which is some thousand points in a second. Project choice."""
_NICE = 10
_STOP_S = 5.0


class MirrorKeeper:
    """Copies, once `start` was called. Without an address in the settings it does nothing."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        settings: MirrorSettings,
        now_ms: Callable[[], int],
        rests: float = RESTS,
        look_every_s: float = LOOK_EVERY_S,
    ) -> None:
        self._journal = journal
        self._site = site
        self._settings = settings
        self._now_ms = now_ms
        self._rests = rests
        self._look_every_s = look_every_s
        self._failures = 0
        self._state: TargetState | None = None
        self._kept: tuple[int, int, str] | None = None
        self._kept_s = 0.0
        self._has_looked = False
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="mirror", daemon=True)

    def start(self) -> None:
        """Begin to copy."""
        if self._settings.enabled:
            self._thread.start()

    def stop(self) -> None:
        """End. A target that does not answer is not waited for."""
        self._stopping.set()
        if self._thread.ident is not None:
            self._thread.join(_STOP_S)

    def _run(self) -> None:
        with contextlib.suppress(OSError, AttributeError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), _NICE)
        # Its library is large: who has no mirror does not load it.
        from daemon.mirror_pass import Pass

        while not self._stopping.is_set():
            try:
                with Pass(self._journal, self._site, self._settings, self._now_ms) as copying:
                    while not self._stopping.wait(self._step(copying)):
                        pass
                    self._keep(copying, at_once=True)
            except ConfigError as error:
                log.error("Nothing is copied to the mirror: %s", error)  # noqa: TRY400 - told to a keeper
                return
            except JournalError as error:
                log.warning("Nothing is copied to the mirror for the moment: %s", error)
                self._stopping.wait(self._look_every_s)

    def _step(self, copying: "Pass") -> float:
        """Copy one part; gives how long to pause, s."""
        began_s = time.thread_time()
        try:
            answer, more = copying.step()
            self._judge(copying, answer)
            self._keep(copying)
            if answer is None and not self._has_looked:
                self._has_looked = True
                self._look_who_else_writes(copying)
        except JournalError as error:
            log.warning("Nothing is copied to the mirror for the moment: %s", error)
            return self._look_every_s
        except Exception:
            log.exception("Copying to the mirror failed: a fault in the program. It is tried again.")
            self._failures += 1
            return max(self._look_every_s, wait_s(self._failures))
        rest_s = self._rests * (time.thread_time() - began_s)
        if answer is not None:
            return max(rest_s, wait_s(self._failures, answer.asked_s))
        return rest_s if more else max(rest_s, self._look_every_s)

    def _look_who_else_writes(self, copying: "Pass") -> None:
        """Say once whether another site bears the same name there; a mirror that cannot be read is no trouble here."""
        from daemon.mirror_journals import troubles
        from daemon.mirror_query import MirrorReader

        with contextlib.suppress(MirrorError), MirrorReader(self._settings) as reader:
            for each in troubles(reader, copying.origin, self._now_ms()):
                log.warning("In the mirror %s. %s", each.reason, each.hint)

    def _judge(self, copying: "Pass", answer: Answer | None) -> None:
        now_ms = self._now_ms()
        state = self._state or self._begin(copying, now_ms)
        if answer is None:
            if state.trouble:
                log.info("The mirror takes points again.")
            self._failures = 0
            self._state = state._replace(progress_ms=now_ms, trouble="", trouble_since_ms=None)
            return
        self._failures += 1
        if answer.told != state.trouble:
            log.warning("Nothing gets to the mirror (%s): %s. It is tried again.", copying.address, answer.told)
        since_ms = state.trouble_since_ms if state.trouble else now_ms
        self._state = state._replace(trouble=answer.told, trouble_since_ms=since_ms)

    def _begin(self, copying: "Pass", now_ms: int) -> TargetState:
        with self._journal.read() as conn:
            before = mirror.state(conn, copying.target)
        return before or TargetState(copying.address, now_ms, None, "", None)

    def _keep(self, copying: "Pass", *, at_once: bool = False) -> None:
        """Write down how far it is and how it goes: soon where that is news, else every few seconds."""
        state = self._state
        if state is None:
            return
        now = (*copying.done, state.trouble)
        is_news = self._kept is None or self._kept[2] != state.trouble
        is_time = at_once or is_news or time.monotonic() - self._kept_s >= KEEP_EVERY_S
        # That it still goes well is written down as well, since that is what a look from outside judges it by.
        if not is_time or (now == self._kept and state.trouble):
            return

        def store(conn: sqlite3.Connection) -> None:
            mirror.raise_cursors(conn, copying.target, *copying.done)
            mirror.keep_state(conn, copying.target, state)

        self._journal.write(store)
        self._kept, self._kept_s = now, time.monotonic()


def keep_mirror(journal: Journal, stated: Stated, clock: Clock, ending: ExitStack) -> None:
    """Begin to copy what a site has, and leave the end to `ending`."""
    keeper = MirrorKeeper(journal, stated.site, stated.settings.mirror, clock.now_ms)
    keeper.start()
    ending.callback(keeper.stop)
