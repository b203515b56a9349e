"""People, a rota, and the run of a ladder over time."""

from dataclasses import replace

from config.words import Priority
from daemon.alarms.classes import MINUTE_MS
from daemon.alarms.ladder import Call, LadderState, Plan, plan, started
from daemon.alarms.people import Contact, Person, Rota
from tests.alarms.machine import START_MS

ANA = Person(
    "ana", "Ana", (Contact("ana/push", "internet"), Contact("ana/mail", "internet"), Contact("ana/sms", "gsm"))
)
BEN = Person("ben", "Ben", (Contact("ben/push", "internet"), Contact("ben/sms", "gsm")))
VET = Person("vet", "Dr Vet", (Contact("vet/voice", "gsm"),))
CREW = Rota((ANA, BEN, VET), ("ana", "ben"), emergency=("vet",))

Told = tuple[float, str, tuple[str, ...]]
"""minutes after the start, person, contacts"""


class Climb:
    """A ladder that is asked exactly when it wants to be."""

    def __init__(self, priority: Priority, rota: Rota = CREW, harm_ms: int | None = None) -> None:
        self.rota = rota
        self.ladder = started(priority, START_MS, harm_ms)
        self.now_ms = START_MS
        self.told: list[Told] = []
        self.calls: list[Call] = []
        self.sounder: list[float] = []
        self.next_ms: int | None = START_MS

    def until(self, minutes: float) -> "Climb":
        """Let time go on to this many minutes after the start, with a look at every moment that was asked for."""
        end_ms = START_MS + round(minutes * MINUTE_MS)
        while self.next_ms is not None and self.next_ms <= end_ms:
            self.now_ms = max(self.now_ms, self.next_ms)
            self.look()
        self.now_ms = end_ms
        return self

    def look(self) -> Plan:
        found = plan(self.ladder, self.rota, self.now_ms)
        assert found.next_ms is None or found.next_ms > self.now_ms
        minutes = (self.now_ms - START_MS) / MINUTE_MS
        self.told += [(minutes, each.person, each.contacts) for each in found.calls]
        self.calls += found.calls
        self.sounder += [minutes] * found.sounder
        self.ladder, self.next_ms = found.ladder, found.next_ms
        return found

    def becomes(self, ladder: LadderState) -> "Climb":
        """Something happened to the ladder; look at once."""
        self.ladder = ladder
        self.look()
        return self

    @property
    def people(self) -> list[tuple[float, str]]:
        return [(minutes, person) for minutes, person, _ in self.told]


def alone() -> Rota:
    return replace(CREW, standing=("ana",), emergency=())
