"""The thread that evaluates what was committed, for as long as the daemon runs."""

import logging
import threading
import time
from collections.abc import Callable

from daemon.alarms.courier import Courier
from daemon.evaluate import LARGEST_STEP, Evaluator
from daemon.mqtt import Listener
from daemon.storage.journal import JournalError

log = logging.getLogger("clutchwarden")

TICK_S = 5.0
RETRY_S = 1.0
PAUSE_S = 0.2
"""Between two evaluations: in a burst, one large step costs far less than many small ones, and ingest goes first."""
LONGEST_BACKLOG_S = 5.0
"""An alarm may wait so long, and no longer, for a backlog to be stored."""
_NOT_EVALUATED = "Readings are not evaluated, so no alarm can be raised"


class Evaluation:
    """Runs an evaluator; `committed` is set by whoever has stored something.

    `went_round` is called after each step, also after one that failed and will be tried again: the watchdog of the
    service is fed by this alone, so that a daemon whose pages live while nothing is evaluated is started anew.
    """

    def __init__(
        self,
        evaluator: Evaluator,
        listener: Listener,
        courier: Courier,
        committed: threading.Event,
        now_ms: Callable[[], int],
        went_round: Callable[[], None] = lambda: None,
    ) -> None:
        self._went_round = went_round
        self._evaluator = evaluator
        self._listener = listener
        self._courier = courier
        self._committed = committed
        self._now_ms = now_ms
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="evaluation", daemon=True)
        self.trouble = ""
        """that nothing is evaluated and why, as a sentence; empty while all is well"""
        self.journal_error: JournalError | None = None
        """what the journal said to the last step, where it could not be stored"""

    def start(self) -> None:
        """Begin, with what is there already."""
        self._thread.start()

    def stop(self, seconds: float = 30.0) -> None:
        """End after the step under way."""
        self._stopping.set()
        self._committed.set()
        self._thread.join(seconds)

    @property
    def alive(self) -> bool:
        """True while the thread runs; a dead one is a fault that health must report."""
        return self._thread.is_alive()

    @property
    def failing(self) -> tuple[str, ...]:
        """A sentence for each kind of alarm that is not looked for at the moment."""
        return self._evaluator.failing

    def _run(self) -> None:
        """No error ends it."""
        while not self._stopping.is_set():
            # Not only when told: a scheduler on wall time would stop with a clock that is set back.
            self._committed.wait(TICK_S)
            self._let_a_backlog_in()
            self._committed.clear()
            self._evaluate()
            self._went_round()
            self._stopping.wait(PAUSE_S)

    def _let_a_backlog_in(self) -> None:
        """What a broker kept while the daemon was away is stored first, for a moment: both at once take longer."""
        until = time.monotonic() + LONGEST_BACKLOG_S
        while self._listener.behind and time.monotonic() < until and not self._stopping.is_set():
            self._stopping.wait(PAUSE_S)

    def _evaluate(self) -> None:
        try:
            self._evaluate_all()
        except JournalError as error:
            self.trouble, self.journal_error = f"{_NOT_EVALUATED}: {error}", error
            log.error("Evaluation waits: %s", error)  # noqa: TRY400 - the text is whole
        except Exception:
            self.trouble, self.journal_error = f"{_NOT_EVALUATED}: a fault in the program, see its log.", None
            log.exception("Evaluation failed; it begins again from the journal.")
        else:
            self.trouble, self.journal_error = "", None
            return
        self._stopping.wait(RETRY_S)
        self._committed.set()

    def _evaluate_all(self) -> None:
        """Evaluate until nothing is left."""
        while not self._stopping.is_set():
            count, told = self._evaluator.step(self._now_ms)
            if told:
                self._courier.wake()
            # A backlog is many steps: each of them is progress.
            self._went_round()
            if count < LARGEST_STEP:
                return
            if self._evaluator.is_looking_back:
                # Years may have come late. Ingest and pages go first meanwhile.
                self._stopping.wait(PAUSE_S)
