"""The agent as a whole: for each probe a thread that measures, a spool, and a connection with its Last Will."""

import fcntl
import logging
import os
import threading
from collections.abc import Callable
from importlib.metadata import PackageNotFoundError, version
from typing import NamedTuple

from config.notify import Notifier
from sensors.agent.clocks import Clocks, together
from sensors.agent.kept import load_clock, save_clock
from sensors.agent.lines import Line
from sensors.agent.packs import LEAF, State, state_pack, status_sentence
from sensors.agent.plan import AgentPlan, ProbePlan
from sensors.agent.sampling import Sampling
from sensors.agent.spool import Settled, Spool
from sensors.agent.spool_line import SpoolLine
from sensors.agent.timekeeper import Timekeeper
from sensors.board_state import CLOCK_RIGHT, DISK_WELL
from sensors.sender import Sender

log = logging.getLogger("clutchwarden.probe")

_LOOK_MS = 1_000
_TELL_MS = 60_000
_KEEP_CLOCK_MS = 3_600_000
_JOIN_S = 15.0
_STUCK_MS = 120_000
"""One step of a measurement ends within half a minute (the longest time that a command may be given)."""


class AgentError(Exception):
    """The agent cannot begin; the text says why and what to do."""


class _Probe(NamedTuple):
    plan: ProbePlan
    spool: Spool
    sampling: Sampling
    sender: Sender
    thread: threading.Thread


class Agent:
    """Measures, keeps and sends until told to stop. Raises AgentError where the spool's folder cannot be used."""

    def __init__(
        self,
        plan: AgentPlan,
        clocks: Clocks,
        pause_s: tuple[float, float] = (1.0, 30.0),
        manager: Notifier | None = None,
    ) -> None:
        self._manager = Notifier({}) if manager is None else manager
        self._plan, self._clocks, self._pause_s = plan, clocks, pause_s
        self._stop = threading.Event()
        self._told: dict[str, State] = {}
        self._manager_knows = False
        self._version = _version()
        self._told_ms = self._clock_kept_ms = clocks.steady_ms()
        self._clock_kept = True
        known, newest_ms = load_clock(plan.folder)
        self._timekeeper = Timekeeper(clocks.boot, known, newest_ms, own=plan.own_clock)
        self._look_at_clock()
        try:
            plan.folder.mkdir(parents=True, exist_ok=True)
            self._lock = _only_one(plan)
            self._probes = tuple(map(self._probe, plan.probes))
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            raise AgentError(f"The folder {plan.folder} for the spool cannot be used: {why}.") from None

    def run(self) -> None:
        """Measure until `stop`; then say goodbye to the broker and keep what it does not have."""
        for probe in self._probes:
            probe.thread.start()
            probe.sender.start()
        self._manager.ready()
        due_ms = self._clocks.steady_ms()
        while not self._clocks.wait(self._stop, due_ms):
            due_ms = self._clocks.steady_ms() + _LOOK_MS
            self._each(self._look_at_clock)
            self._each(self._tell_all)
            # The system starts anew what measures no more, though this loop may still go round.
            if all(probe.thread.is_alive() and not probe.sampling.is_stuck(_STUCK_MS) for probe in self._probes):
                self._manager.alive()
        self._manager.stopping()
        for probe in self._probes:
            probe.thread.join(_JOIN_S)
            probe.sender.stop()
            probe.spool.close()
        self._keep_clock()
        os.close(self._lock)

    def stop(self) -> None:
        """End; from any thread or a signal."""
        self._stop.set()

    def state(self, probe: _Probe) -> State:
        """How the agent is with a probe."""
        counts = probe.spool.counts
        return State(
            waiting=probe.spool.waiting,
            given_up=counts[Settled.GIVEN_UP],
            damaged=counts[Settled.DAMAGED],
            undated=counts[Settled.UNDATED],
            missed=probe.sampling.beats.missed,
            clock=CLOCK_RIGHT if self._timekeeper.moment(self._clocks.steady_ms()) is not None else "not set yet",
            disk=probe.spool.trouble or DISK_WELL,
            faults=probe.sampling.faults,
            certificate_ends_s=probe.sender.certificate_ends_s,
        )

    def _probe(self, plan: ProbePlan) -> _Probe:
        spool = Spool(self._plan.folder / plan.id, self._plan.bounds, self._clocks.boot, self._age_ms)
        sampling = Sampling(plan, self._plan.sysfs, spool, self._timekeeper, self._clocks)
        broker = self._plan.broker
        username, password = self._plan.signs_in(plan)
        sender = Sender(
            SpoolLine(spool, self._timekeeper),
            plan.id,
            broker.host,
            broker.port,
            username=username,
            password=password,
            protocol=broker.protocol,
            prefix=broker.prefix,
            tls=broker.tls,
            pause_s=self._pause_s,
            keep_alive_s=broker.keep_alive_s,
        )
        thread = threading.Thread(target=sampling.run, args=(self._stop,), name=f"measure-{plan.id}", daemon=True)
        return _Probe(plan, spool, sampling, sender, thread)

    def _each(self, work: Callable[[], None]) -> None:
        try:
            work()
        except Exception:  # a fault of ours must not end measuring
            log.exception("A look of the agent failed by a fault in the program; the next one follows.")

    def _look_at_clock(self) -> None:
        steady_ms, wall_ms = together(self._clocks)
        by_ms = self._timekeeper.look(steady_ms, wall_ms, self._clocks.synchronised())
        if by_ms is not None:
            said = (
                "is right; what was measured before is dated now" if not by_ms else f"was set by {by_ms / 1000:+.1f} s"
            )
            log.info("The clock of this board %s.", said)
            self._clock_kept = False
        if not self._clock_kept:
            self._keep_clock()

    def _keep_clock(self) -> None:
        try:
            self._plan.folder.mkdir(parents=True, exist_ok=True)
            save_clock(self._plan.folder, *self._timekeeper.to_keep())
        except OSError as error:
            log.debug("The clock's offset cannot be kept (%s).", error.strerror)
        else:
            self._clock_kept, self._clock_kept_ms = True, self._clocks.steady_ms()

    def _tell_all(self) -> None:
        now_ms = self._clocks.steady_ms()
        moment_ms = self._timekeeper.moment(now_ms)
        if now_ms - self._clock_kept_ms >= _KEEP_CLOCK_MS:
            self._clock_kept = False
        regular = now_ms - self._told_ms >= _TELL_MS
        self._told_ms = now_ms if regular else self._told_ms
        for probe in self._probes:
            probe.sender.wake()
            state = self.state(probe)
            before = self._told.get(probe.plan.id)
            if before is None and moment_ms is None:
                log.warning("The clock of this board is not set yet: readings are kept, and sent once it is.")
            # How much waits, and the numbers in a sentence, change all the time: they are told once a minute.
            if before is None or _lasting(state) != _lasting(before) or (regular and state != before):
                self._told[probe.plan.id] = state
                probe.sender.notice(LEAF, state_pack(self._whole(probe, state), moment_ms))
            if regular:
                probe.spool.save_if_due()
        if regular or not self._manager_knows:
            self._manager_knows = True
            self._manager.status(status_sentence(list(self._told.values())))

    def _whole(self, probe: _Probe, state: State) -> State:
        """Add what takes a look at the disk: only where it is told."""
        oldest_ms = probe.spool.oldest_ms()
        oldest_s = None if oldest_ms is None else max(oldest_ms, 0) // 1000
        return state._replace(version=self._version, full=round(probe.spool.full, 2), oldest_s=oldest_s)

    def _age_ms(self, line: Line) -> int | None:
        steady_ms = self._clocks.steady_ms()
        if line.boot == self._clocks.boot:
            return steady_ms - line.steady_ms
        line_ms = line.moment_ms or self._timekeeper.placed(line.boot, line.steady_ms)
        now_ms = self._timekeeper.moment(steady_ms)
        return None if line_ms is None or now_ms is None else now_ms - line_ms


def _lasting(state: State) -> State:
    kinds = {channel: said.partition(":")[0] for channel, said in state.faults.items()}
    return state._replace(waiting=0, faults=kinds)


def _version() -> str:
    try:
        return version("clutchwarden")
    except PackageNotFoundError:
        return ""


def _only_one(plan: AgentPlan) -> int:
    """Hold the folder for this agent alone; two of them would give one number to two readings."""
    opened = os.open(plan.folder / "agent.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    try:
        fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(opened)
        raise AgentError(
            f"Another agent already runs with the folder {plan.folder}. End that one first, or give this file a folder "
            "of its own under [spool]."
        ) from None
    return opened
