"""The only place that knows APScheduler: jobs at an interval, none of them lost or doubled by a late start."""

import logging
from collections.abc import Callable
from datetime import UTC

from apscheduler.schedulers.background import BackgroundScheduler

log = logging.getLogger("clutchwarden.schedule")


class Schedule:
    """Runs functions at an interval in threads of its own."""

    def __init__(self) -> None:
        # The library skips a job that is more than one second late unless told otherwise: one late run is enough,
        # several missed ones are one, and a job never runs beside itself.
        self._scheduler = BackgroundScheduler(
            timezone=UTC, job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
        )
        logging.getLogger("apscheduler").setLevel(logging.ERROR)

    def every(self, seconds: float, job: Callable[[], None], name: str) -> None:
        """Run a job at an interval. An error in it is logged, and the next run comes all the same."""

        def guarded() -> None:
            try:
                job()
            except Exception:
                log.exception("The job %s failed; it runs again in %g s.", name, seconds)

        self._scheduler.add_job(guarded, "interval", seconds=seconds, id=name, name=name)

    def start(self) -> None:
        """Begin to run the jobs."""
        self._scheduler.start()

    def stop(self) -> None:
        """Let a running job end and start no other."""
        if self._scheduler.running:
            self._scheduler.shutdown(wait=True)
