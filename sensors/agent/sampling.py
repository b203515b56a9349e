"""Measures one probe on a steady beat, in a thread of its own: one slow sensor holds up no other probe."""

import logging
import threading
from pathlib import Path

from sensors.agent.beats import Beats
from sensors.agent.clocks import Clocks
from sensors.agent.lines import values_text
from sensors.agent.plan import ProbePlan
from sensors.agent.spool import Sample, Spool
from sensors.agent.timekeeper import Timekeeper
from sensors.linux.reading import read_in_time
from sensors.linux.values import Fault, Value

log = logging.getLogger("clutchwarden.probe")


class Sampling:
    """One probe. `faults`: the channels that say nothing, each with the reason as a sentence."""

    def __init__(self, plan: ProbePlan, sysfs: Path, spool: Spool, timekeeper: Timekeeper, clocks: Clocks) -> None:
        self._plan, self._sysfs, self._spool = plan, sysfs, spool
        self._timekeeper, self._clocks = timekeeper, clocks
        self.beats = Beats(plan.interval_ms, clocks.steady_ms())
        self.faults: dict[str, str] = {}
        self._step_ms: int | None = None
        """when the step under way began: one channel, or keeping what was read; None between two measurements"""

    def is_stuck(self, longer_than_ms: int) -> bool:
        """True where one step of a measurement takes longer than any may: reading a channel, or keeping the values."""
        began_ms = self._step_ms
        return began_ms is not None and self._clocks.steady_ms() - began_ms > longer_than_ms

    def run(self, stop: threading.Event) -> None:
        """Measure until told to stop."""
        while not self._clocks.wait(stop, self.beats.due_ms):
            try:
                self.beat()
            except Exception:  # a fault of ours must not end measuring for good
                log.exception("Probe %s: this measurement failed by a fault in the program.", self._plan.id)
            self._step_ms = None
            self.beats.advance(self._clocks.steady_ms())

    def beat(self) -> None:
        """Measure once. The time is that of the middle: reading several thermometers takes seconds."""
        began_ms = self._clocks.steady_ms()
        values = {}
        for channel in self._plan.channels:
            self._step_ms = self._clocks.steady_ms()
            answer = read_in_time(channel.address, self._sysfs)
            self._tell(channel.name, answer)
            if isinstance(answer, Value):
                values[channel.name] = (answer.value, answer.unit)
        self._step_ms = self._clocks.steady_ms()
        if values:
            steady_ms = (began_ms + self._clocks.steady_ms()) // 2
            self._spool.append([Sample(steady_ms, self._timekeeper.moment(steady_ms), values_text(values))])

    def _tell(self, channel: str, answer: Value | Fault) -> None:
        """Say a change once, not at every beat."""
        before = self.faults.get(channel)
        if isinstance(answer, Fault):
            # Numbers in a sentence may change from beat to beat; the kind of fault is what is new or not.
            if before is None or not before.startswith(f"{answer.kind.value}: "):
                log.warning("Probe %s, channel %s gives no value: %s.", self._plan.id, channel, answer.sentence)
            self.faults = {**self.faults, channel: f"{answer.kind.value}: {answer.sentence}"}
        elif before is not None:
            log.info("Probe %s, channel %s gives values again.", self._plan.id, channel)
            self.faults = {name: said for name, said in self.faults.items() if name != channel}
