"""Tells an outside check, again and again, that every part of the daemon is well. Its silence then means something.

It has a thread of its own, on monotonic time, and nothing waits for it: neither a hanging check nor a clock that is
set back costs the evaluation or the delivery anything.
"""

import json
import logging
import re
import threading
from collections.abc import Callable, Sequence
from typing import Final

from config.heartbeat import HeartbeatSettings
from daemon.http_call import Answered, HttpCall, NotAnswered

log = logging.getLogger("clutchwarden.heartbeat")

FORMAT: Final = "clutchwarden-heartbeat-1"
MISSES_SHOWN = 3
"""So many heartbeats in a row that nobody took are a trouble; a single one is nothing to tell anybody."""
AGAIN_S = 15.0
"""A heartbeat that nobody took is repeated after this, so that one lost packet does not look like a silence."""
FIRST_S = 2.0
_SUCCESS = range(200, 300)


class Heartbeat:
    """Sends heartbeats for as long as the daemon runs. `reasons` gives sentences on what is not well; none: well."""

    def __init__(self, settings: HeartbeatSettings, site: str, reasons: Callable[[], Sequence[str]]) -> None:
        self._settings = settings
        self._site = site
        self._reasons = reasons
        well, unwell = settings.reveal_url(), settings.reveal_fail_url()
        self._well = None if well is None else HttpCall(well, settings.timeout_s, "heartbeat-well")
        self._unwell = None if unwell is None else HttpCall(unwell, settings.timeout_s, "heartbeat-unwell")
        self._misses = 0
        self._said = ""
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)

    @property
    def trouble(self) -> str:
        """What is wrong with the heartbeat itself, as a sentence; empty while nothing is."""
        if self._misses < MISSES_SHOWN:
            return ""
        return f"The outside check did not take the last {self._misses} heartbeats; see [heartbeat] in settings.toml."

    def start(self) -> None:
        """Begin, where an address is stated."""
        if self._well is not None:
            self._thread.start()

    def stop(self) -> None:
        """End. A request under way ends by itself, unseen."""
        self._stopping.set()

    def _run(self) -> None:
        pause_s = min(FIRST_S, self._settings.every_s)
        while not self._stopping.wait(pause_s):
            try:
                taken = self.beat()
            except Exception:
                log.exception("The heartbeat failed; the next one comes all the same.")
                taken = False
            pause_s = self._settings.every_s if taken else min(AGAIN_S, self._settings.every_s)

    def beat(self) -> bool:
        """Send one, if all is well, and else say why not. True unless somebody should have taken it and did not."""
        own = self.trouble
        # That the outside check is away must not be a reason to tell it nothing when it is back.
        reasons = [reason for reason in self._reasons() if reason != own]
        self._say(reasons)
        call = self._unwell if reasons else self._well
        if call is None:
            return True
        content = None
        if self._settings.method == "POST":
            told = {"format": FORMAT, "site": self._site, "healthy": not reasons, "reasons": reasons}
            content = json.dumps(told, ensure_ascii=False).encode()
        return self._count(call.make(self._settings.method, content))

    def _say(self, reasons: Sequence[str]) -> None:
        """Write once why there is no heartbeat; figures in a reason change all the time and are no news."""
        said = re.sub(r"\d+", "#", " ".join(reasons))
        if said == self._said:
            return
        self._said = said
        if reasons:
            log.warning("No heartbeat is sent, because not all is well: %s", " ".join(reasons))
        else:
            log.info("All is well again; heartbeats are sent.")

    def _count(self, answer: Answered | NotAnswered) -> bool:
        if isinstance(answer, Answered) and answer.status in _SUCCESS:
            if self._misses:
                log.info("The outside check takes heartbeats again.")
            self._misses = 0
            return True
        self._misses += 1
        if self._misses == 1:
            why = answer.reason if isinstance(answer, NotAnswered) else f"it answered {answer.status}"
            log.warning("The outside check did not take a heartbeat: %s. It is tried again.", why)
        return False
