"""An alarm desk with three people, and transitions by hand: who is called and told when."""

from config.words import AlarmKind, Quantity
from daemon.alarm_desk import Desk
from daemon.alarm_desk_values import CallOut, Outcome, Told
from daemon.alarm_transition import Transition
from daemon.alarms.classes import MINUTE_MS
from daemon.alarms.conditions import Change
from daemon.alarms.events import Acknowledge
from daemon.alarms.ladder import LadderState
from sensors.reading import ChannelKey
from tests.alarms.crew import CREW
from tests.alarms.machine import START_MS


def change(
    kind: AlarmKind, minutes: float, what: Change, subject: str = "p1/air", since: float | None = None
) -> Transition:
    """A condition that began or ended so many minutes after the start. Without a channel it is about the site."""
    at_ms = START_MS + round(minutes * MINUTE_MS)
    since_ms = at_ms if since is None else START_MS + round(since * MINUTE_MS)
    probe = subject.split("/", maxsplit=1)[0]
    channel = ChannelKey(subject, probe, "air", Quantity.AIR_TEMPERATURE) if "/" in subject else None
    return Transition(
        kind=kind,
        channel=channel,
        place="north/top/N1" if channel else "",
        change=what,
        at_ms=at_ms,
        since_ms=since_ms,
        value=None,
        limit=None,
        peak=None,
        occurrence=f"{kind}:{subject}:{at_ms}",
        told=True,
        still=(),
        reason="by hand",
        subject=subject,
    )


class House:
    """Looks at the desk every ten seconds."""

    def __init__(self) -> None:
        self.desk = Desk(CREW)
        self.minutes = 0.0
        self.calls: list[tuple[float, CallOut]] = []
        self.told: list[tuple[float, Told]] = []
        self.pointless: list[str] = []

    @property
    def now_ms(self) -> int:
        return START_MS + round(self.minutes * MINUTE_MS)

    def on(self, *kinds: AlarmKind, subject: str = "p1/air") -> "House":
        return self.take([change(kind, self.minutes, Change.RAISED, subject) for kind in kinds])

    def off(self, *kinds: AlarmKind, subject: str = "p1/air") -> "House":
        return self.take([change(kind, self.minutes, Change.CLEARED, subject) for kind in kinds])

    def take(self, transitions: list[Transition]) -> "House":
        return self._keep(self.desk.take(transitions, self.now_ms))

    def until(self, minutes: float) -> "House":
        """Let time go on to this many minutes after the start."""
        while self.minutes < minutes:
            self.minutes = min(minutes, self.minutes + 1 / 6)
            self.take([])
        return self

    def acknowledge(self, key: str, who: str = "ben") -> "House":
        state = self.desk.entries[key].state
        self.desk.apply(key, Acknowledge(who, state.occurrence, state.version, "seen"), self.now_ms)
        return self._keep(self.desk.settle(self.now_ms))

    def _keep(self, outcome: Outcome) -> "House":
        self.calls += [(round(self.minutes, 1), each) for each in outcome.calls]
        self.told += [(round(self.minutes, 1), each) for each in outcome.told]
        self.pointless += outcome.pointless
        return self

    def people(self, lead: str = "") -> list[tuple[float, str]]:
        """When who was called, by minutes after the start; where a lead is given, only about that."""
        return [(at, each.person) for at, each in self.calls if lead in ("", each.lead)]

    def ladder(self) -> LadderState:
        """The ladder of the only incident."""
        (found,) = self.desk.ladders.values()
        return found
