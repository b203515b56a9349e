"""`clutchwarden run` with an evaluation that stands still while a file is there, and looks around more often.

`python -m tests.support.standing_still FILE run SITE_FOLDER`. The clock is the door: the evaluation asks it for the
moment at each step, and nobody else is held up by it.
"""

import sys
import threading
import time
from pathlib import Path

from daemon import evaluation
from daemon.cli import main
from daemon.clock import SystemClock
from daemon.commands import run


def standing_still_while(file: Path) -> type[SystemClock]:
    """A clock that does not answer the evaluation while there is a file."""

    class Clock(SystemClock):
        def now_ms(self) -> int:
            while threading.current_thread().name == "evaluation" and file.exists():
                time.sleep(0.05)
            return super().now_ms()

    return Clock


if __name__ == "__main__":
    evaluation.TICK_S = 0.2
    run.SystemClock = standing_still_while(Path(sys.argv.pop(1)))  # type: ignore[attr-defined]
    main()
