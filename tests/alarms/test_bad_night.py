"""The rules together over one bad night: mains lost, nobody answers, the second person goes, it is back.

As values only; what the service does with them is its own test. X-18, X-31 and X-33 in one.
"""

from daemon.alarms.classes import LAST_PROBE_SILENT, LETHAL, LOW_WARNING, MAINS_LOST, MINUTE_MS, NO_DATA, AlarmClass
from daemon.alarms.events import (
    Acknowledge,
    Annunciate,
    Ladder,
    Pace,
    Record,
    Reset,
    SuppressOff,
    SuppressOn,
    TimePassed,
)
from daemon.alarms.folding import AlarmOn, Role, fold
from daemon.alarms.incident import IncidentBook, arrive
from daemon.alarms.ladder import LadderState, plan, started, stopped
from tests.alarms.crew import CREW
from tests.alarms.machine import START_MS, Machine, known, messages

ALARMS: dict[str, tuple[AlarmClass, Role]] = {
    "mains": (MAINS_LOST, Role.MAINS_LOST),
    "silent p1": (NO_DATA, Role.NO_DATA),
    "silent p2": (NO_DATA, Role.NO_DATA),
    "silent last": (LAST_PROBE_SILENT, Role.NO_DATA),
    "low": (LOW_WARNING, Role.LOW),
    "lethal low": (LETHAL, Role.LETHAL_LOW),
}


class Night:
    def __init__(self) -> None:
        self.machines: dict[str, Machine] = {name: known(alarm) for name, (alarm, _) in ALARMS.items()}
        self.since: dict[str, int] = {}
        self.book = IncidentBook()
        self.ladders: dict[str, LadderState] = {}
        self.now_ms = START_MS
        self.told: list[tuple[int, str, tuple[str, ...]]] = []

    def goes_on(self, *names: str) -> None:
        self.since |= dict.fromkeys(names, self.now_ms)
        on = {name: self._on(name) for name in self.since}
        new = []
        for name in names:
            machine, found = self.machines[name], fold(on.values()).get(name)
            machine.now_ms = self.now_ms
            if found is not None and found.mode is not None:
                machine.do(SuppressOn(found.mode, found.root, self.now_ms + 12 * 60 * MINUTE_MS, 5 * MINUTE_MS))
            called = any(isinstance(each, Annunciate) for each in machine.on().effects)
            if called or machine.state.is_suppressed_by_design:
                new.append(name)
        calling = {name: each.priority for name, each in self.ladders.items() if each.pace == "call"}
        after = arrive(self.book, new, on, self.now_ms, calling)
        self.book = after.book
        for name in after.announced:
            self.ladders[name] = started(ALARMS[name.split("@")[0]][0].priority, self.now_ms)

    def until(self, minutes: int) -> None:
        """Each minute: one look at every ladder; what is due for a person at one moment is one message."""
        while self.now_ms < START_MS + minutes * MINUTE_MS:
            due: dict[str, list[str]] = {}
            for name, ladder in self.ladders.items():
                found = plan(ladder, CREW, self.now_ms)
                self.ladders[name] = found.ladder
                for call in found.calls:
                    due.setdefault(call.person, []).append(name.split("@")[0])
            self.told += [((self.now_ms - START_MS) // MINUTE_MS, who, tuple(names)) for who, names in due.items()]
            self.now_ms += MINUTE_MS

    def acknowledge(self, who: str, name: str) -> None:
        incident = self.book.holding(name)
        assert incident is not None
        for member in incident.members:
            machine = self.machines[member]
            machine.now_ms = self.now_ms
            after = machine.do(Acknowledge(who, machine.state.occurrence, machine.state.version, "on my way"))
            if Ladder(Pace.STOP, self.now_ms) in after.effects:
                self.ladders[incident.id] = stopped(self.ladders[incident.id])

    def _on(self, name: str) -> AlarmOn:
        alarm, role = ALARMS[name]
        area = "" if role is Role.MAINS_LOST else "north"
        return AlarmOn(name, role, alarm.priority, self.since[name], area, area, name, alarm.suppressible_by)


def test_a_bad_night_is_one_message_a_second_person_and_an_end() -> None:
    night = Night()
    night.goes_on("mains")
    night.until(2)
    night.goes_on("silent p1", "silent p2", "silent last")
    night.until(6)
    # one incident: the second person is called at five minutes, and hears of mains and nothing else
    assert [each[1:] for each in night.told] == [("ana", ("mains",)), ("ana", ("mains",)), ("ben", ("mains",))]
    assert [minutes for minutes, *_ in night.told] == [0, 2, 5]
    shown = {name: str(machine.shown) for name, machine in night.machines.items()}
    assert shown["silent p1"] == shown["silent p2"] == "suppressed by design"
    assert shown["silent last"] == "unacknowledged"
    night.acknowledge("ben", "mains")
    night.until(20)
    assert len(night.told) == 3
    # it becomes cold: folded; dangerously cold: never
    night.goes_on("low")
    night.until(30)
    assert len(night.told) == 3
    night.goes_on("lethal low")
    night.until(31)
    assert night.told[3:] == [(30, "ana", ("lethal low",))]
    night.acknowledge("ben", "lethal low")
    # the heat is back: what latches is held until the reset, the rest is over and nobody is called again
    for name, machine in night.machines.items():
        machine.now_ms = night.now_ms + 2 * MINUTE_MS
        machine.off()
        for each in machine.state.design:
            machine.do(SuppressOff(each.mode, each.name))
        machine.wait(6).do(TimePassed())
        assert machine.shown == ("latched acknowledged" if machine.alarm.latching else "normal"), name
    mains = night.machines["mains"]
    assert messages(mains.effects) == ["raised", "somebody has acknowledged", "back in range"]
    mains.do(Reset("ben"))
    story = [(each.row, each.who) for each in mains.effects if isinstance(each, Record)]
    assert story == [("1", ""), ("3", "ben"), ("7", ""), ("14", "ben")]
