"""What the service does with the journal again and again: cooling curves, roll-ups, daily digests."""

import contextlib
from collections.abc import Callable

from config.site import Site
from daemon.clock import Clock
from daemon.cooling_learner import LEARN_EVERY_S, CoolingLearner
from daemon.day_digests import DIGEST_EVERY_S, DayDigests
from daemon.evaluation import TICK_S
from daemon.rollups import ROLL_UP_EVERY_S, RollUps
from daemon.schedule import Schedule
from daemon.storage.journal import Journal

_FASTEST = 20.0
"""So many times as often at the most, where the clock of the demo runs fast."""


def start_jobs(
    journal: Journal, site: Site, clock: Clock, tick: Callable[[], None], ending: contextlib.ExitStack
) -> None:
    """Start them all, and `tick`, by which the evaluation looks at the time; `ending` ends them."""
    rate = min(clock.rate, _FASTEST)
    roll_ups, digests = RollUps(journal), DayDigests(journal, clock.now_ms)
    schedule = Schedule()
    schedule.every(TICK_S / rate, tick, "look-at-the-time")
    schedule.every(LEARN_EVERY_S / rate, CoolingLearner(journal, site, clock.now_ms).run, "learn-cooling")
    schedule.every(ROLL_UP_EVERY_S / rate, roll_ups.run, "roll-up")
    schedule.every(DIGEST_EVERY_S / rate, digests.run, "digest-readings")
    schedule.start()
    ending.callback(schedule.stop)
    ending.callback(roll_ups.stop)
    ending.callback(digests.stop)
