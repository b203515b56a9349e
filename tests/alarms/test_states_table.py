"""Every pair of alarm memory and event, against a table that is written by hand from the rows of ISA-18.2's states.

A normal, B unacknowledged, C acknowledged, D returned to normal unacknowledged, E latched unacknowledged, F latched
acknowledged. A cell is the row of the transition and where it leads; `-` where nothing changes; `!` before a row, or
alone, where a person is refused. `*` behind it: people are called.
"""

from collections.abc import Callable, Iterator

import pytest

from config.words import Priority
from daemon.alarms.classes import DAY_MS, HOUR_MS, MINUTE_MS, AlarmClass, Mode
from daemon.alarms.events import (
    Acknowledge,
    ClockStepped,
    ConditionOff,
    ConditionOn,
    DataBack,
    DataLost,
    Event,
    FoundAfterwards,
    LimitChanged,
    RemoveFromService,
    Reset,
    Restarted,
    ReturnToService,
    Shelve,
    SuppressOff,
    SuppressOn,
    TimePassed,
    Unshelve,
)
from daemon.alarms.state_values import AlarmMemory
from tests.alarms.machine import Machine, calls, known, refused, rows

PLAIN = AlarmClass("plain", Priority.HIGH, suppressible_by=frozenset(Mode))
LATCH = AlarmClass("latch", Priority.HIGH, latching=True, suppressible_by=frozenset(Mode))
LOWEST = AlarmClass("lowest", Priority.LOW, suppressible_by=frozenset(Mode))
CLASSES = {"plain": PLAIN, "latch": LATCH, "lowest": LOWEST}

LETTERS = dict(zip("ABCDEF", AlarmMemory, strict=True))

EVENTS: dict[str, Callable[[Machine], Event]] = {
    "on": lambda m: ConditionOn("new", m.now_ms),
    "off": lambda _: ConditionOff(),
    "lost": lambda _: DataLost(),
    "back": lambda _: DataBack(),
    "ack": lambda m: Acknowledge("ana", m.state.occurrence, m.state.version),
    "stale": lambda m: Acknowledge("ana", m.state.occurrence, m.state.version - 1),
    "reset": lambda _: Reset("ana"),
    "late": lambda m: FoundAfterwards("late", m.now_ms - HOUR_MS, m.now_ms - MINUTE_MS),
    "limit": lambda _: LimitChanged("ana", "new clutch"),
    "time": lambda _: TimePassed(),
    "clock": lambda _: ClockStepped(1000),
    "restart": lambda _: Restarted(frozenset({(Mode.DOOR, "d")})),
    "shelve": lambda m: Shelve("ana", "known", m.now_ms + HOUR_MS),
    "unshelve": lambda _: Unshelve("ana"),
    "sup+": lambda m: SuppressOn(Mode.ROUND, "r", m.now_ms + 20 * MINUTE_MS),
    "worse": lambda m: SuppressOn(Mode.WORSE, "lethal", m.now_ms + HOUR_MS),
    "sup-": lambda _: SuppressOff(Mode.DOOR, "d"),
    "oos": lambda m: RemoveFromService("ana", "probe broken", "hand thermometer", m.now_ms + HOUR_MS, eggs_inside=True),
    "svc": lambda _: ReturnToService("ana", "ice water"),
}

# set empty: nothing holds messages back
OPEN = """
class  from on    off  lost back ack  stale reset late limit time clock restart shelve unshelve sup+ worse sup- oos  svc
plain  A    1B*   -    28A  -    !    !     !     30D  -     -    A     32A     18A    !        22A  17A   -    25A  !26
plain  B    -     4D   28B  -    3C   !     !     -    31D   -    B     32B     18B    !        22B  17B   -    25B  !26
plain  C    -     6A   28C  -    !    !     !     -    31A   10B* C     32C     18C    !        22C  17C   -    25C  !26
plain  D    9B*   -    28D  -    8A   !     !     -    -     -    D     32D     18D    !        22D  17D   -    25D  !26
latch  A    1B*   -    28A  -    !    !     !     30D  -     -    A     32A     18A    !        22A  17A   -    25A  !26
latch  B    -     5E   28B  -    3C   !     !     -    31D   -    B     32B     18B    !        22B  17B   -    25B  !26
latch  C    -     7F   28C  -    !    !     !     -    31A   10B* C     32C     18C    !        22C  17C   -    25C  !26
latch  E    13B*  -    28E  -    12F  !     !16   -    -     -    E     32E     18E    !        22E  17E   -    25E  !26
latch  F    15B*  -    28F  -    !    !     14A   -    -     -    F     32F     18F    !        22F  17F   -    25F  !26
lowest A    1B*   -    28A  -    !    !     !     30D  -     -    A     32A     18A    !        22A  17A   -    25A  !26
lowest B    -     4bA  28B  -    3C   !     !     -    31D   -    B     32B     18B    !        22B  17B   -    25B  !26
lowest C    -     6A   28C  -    !    !     !     -    31A   10B* C     32C     18C    !        22C  17C   -    25C  !26
lowest D    9B*   -    28D  -    8A   !     !     -    -     -    D     32D     18D    !        22D  17D   -    25D  !26
"""

# suppressed by the design "door": a small letter is A with a hidden occurrence, `a` on and `o` off again
HELD = """
class  from on    off  lost back ack  stale reset late limit time clock restart shelve unshelve sup+ worse sup- oos  svc
plain  A    2a    -    28A  -    !    !     !     30o  -     -    A     32A     18A    !        22A  17A   23A  25A  !26
plain  B    -     4D   28B  -    33C  !     !     -    31D   -    B     32B     18B    !        22B  17B   19B* 25B  !26
plain  C    -     6A   28C  -    !    !     !     -    31A   -    C     32C     18C    !        22C  17C   19B* 25C  !26
plain  D    9B    -    28D  -    33A  !     !     -    -     -    D     32D     18D    !        22D  17D   19D  25D  !26
plain  a    -     2o   28a  -    33C  !     !     -    31o   -    a     32a     18a    !        22a  17a   19B* 25a  !26
plain  o    2a    -    28o  -    33A  !     !     -    -     -    o     32o     18o    !        22o  17o   19A  25o  !26
latch  B    -     5E   28B  -    33C  !     !     -    31D   -    B     32B     18B    !        22B  17B   19B* 25B  !26
latch  C    -     7F   28C  -    !    !     !     -    31A   -    C     32C     18C    !        22C  17C   19B* 25C  !26
latch  E    13B   -    28E  -    33F  !     !16   -    -     -    E     32E     18E    !        22E  17E   23E  25E  !26
latch  F    15B   -    28F  -    !    !     14A   -    -     -    F     32F     18F    !        22F  17F   23F  25F  !26
lowest B    -     4bA  28B  -    33C  !     !     -    31D   -    B     32B     18B    !        22B  17B   19B* 25B  !26
lowest a    -     2o   28a  -    33C  !     !     -    31o   -    a     32a     18a    !        22a  17a   19B* 25a  !26
lowest o    2a    -    28o  -    33A  !     !     -    -     -    o     32o     18o    !        22o  17o   19A  25o  !26
"""


def cells(text: str) -> Iterator[tuple[str, str, str, str]]:
    head, *lines = text.strip().splitlines()
    names = head.split()[2:]
    assert names == list(EVENTS)
    for line in lines:
        alarm, letter, *found = line.split()
        assert len(found) == len(names), line
        for name, cell in zip(names, found, strict=True):
            yield alarm, letter, name, cell


def led_to(alarm: AlarmClass, letter: str) -> Machine:
    """Lead a fresh alarm into a state by rows that stand further up in the table."""
    machine = known(alarm)
    if letter != "A":
        machine.on()
    if letter in "CF":
        machine.ack()
    if letter in "EF" or (letter == "D" and alarm is PLAIN):
        machine.off()
    elif letter == "D":
        machine.do(LimitChanged("ana", "new clutch"))
    assert machine.memory is LETTERS[letter]
    return machine


def held(alarm: AlarmClass, letter: str) -> Machine:
    machine = led_to(alarm, "A" if letter in "ao" else letter)
    machine.do(SuppressOn(Mode.DOOR, "d", machine.now_ms + 30 * MINUTE_MS))
    if letter in "ao":
        machine.on()
    if letter == "o":
        machine.off()
    return machine


def letter_of(machine: Machine) -> str:
    if machine.state.hidden:
        assert machine.memory is AlarmMemory.NORMAL
        return "a" if machine.state.in_alarm else "o"
    return next(letter for letter, memory in LETTERS.items() if memory is machine.memory)


def check(machine: Machine, name: str, cell: str, letter: str) -> None:
    if name == "time" and cell != "-":
        machine.wait(machine.alarm.realarm_ms / MINUTE_MS)
    if name == "clock":
        machine.now_ms += 1000
    after = machine.do(EVENTS[name](machine))
    wanted = cell.rstrip("*")
    assert calls(after.effects) == cell.endswith("*")
    assert refused(after) == wanted.startswith("!")
    if wanted.startswith("!") or wanted == "-":
        assert letter_of(machine) == letter
        assert rows(after) == []
        return
    assert letter_of(machine) == wanted[-1]
    if wanted[:-1]:
        assert rows(after)[-1] == wanted[:-1]


@pytest.mark.parametrize(("alarm", "letter", "name", "cell"), list(cells(OPEN)))
def test_every_event_in_every_state_that_is_told(alarm: str, letter: str, name: str, cell: str) -> None:
    """X-23, ISA-18.2 state transitions."""
    check(led_to(CLASSES[alarm], letter), name, cell, letter)


@pytest.mark.parametrize(("alarm", "letter", "name", "cell"), list(cells(HELD)))
def test_every_event_in_every_state_that_is_suppressed(alarm: str, letter: str, name: str, cell: str) -> None:
    """X-23: a suppressed alarm goes on being evaluated and recorded, and nobody is called."""
    check(held(CLASSES[alarm], letter), name, cell, letter)


def test_the_tables_name_every_event_there_is() -> None:
    made = {type(make(known(PLAIN))) for make in EVENTS.values()}
    assert made == set(Event.__args__)


def test_every_row_is_in_the_tables_or_has_a_test_of_its_own() -> None:
    found = {cell.strip("!*").rstrip("ABCDEFao") for text in (OPEN, HELD) for *_, cell in cells(text)}
    elsewhere = {"11", "20", "21", "24", "26", "27", "29"}
    assert found - {"", "-"} | elsewhere == {*map(str, range(1, 34)), "4b"}


def test_a_known_condition_is_told_apart_from_an_unknown_one() -> None:
    """Rows 28 and 29."""
    machine = known(PLAIN)
    machine.on()
    assert rows(machine.do(DataLost())) == ["28"]
    assert machine.state.condition == "unknown"
    assert rows(machine.do(DataBack())) == ["29"]
    assert machine.state.condition == "alarm"


def test_a_return_to_service_brings_out_what_is_still_on() -> None:
    """Row 26."""
    machine = known(PLAIN)
    machine.do(EVENTS["oos"](machine))
    machine.on()
    after = machine.do(ReturnToService("ana", "ice water"))
    assert (rows(after), calls(after.effects), letter_of(machine)) == (["26", "19"], 1, "B")


def test_a_return_to_service_needs_a_fresh_good_reading() -> None:
    machine = known(PLAIN)
    machine.do(EVENTS["oos"](machine), DataLost())
    assert refused(machine.do(ReturnToService("ana", "ice water")))
    assert machine.shown == "out of service"


def test_a_review_date_reminds_softly_then_each_day_and_returns_nothing_to_service() -> None:
    """Row 27."""
    machine = known(PLAIN)
    machine.do(EVENTS["oos"](machine))
    first = machine.wait(60).do(TimePassed())
    second = machine.wait(24 * 60).do(TimePassed())
    third = machine.wait(24 * 60).do(TimePassed())
    found = [[each.priority for each in after.effects if hasattr(each, "priority")] for after in (first, second, third)]
    assert found == [[Priority.LOW], [Priority.HIGH], [Priority.HIGH]]
    assert machine.shown == "out of service"
    assert rows(first) == ["27"]


def test_after_half_an_hour_the_same_alarm_is_a_new_occurrence() -> None:
    """Row 9."""
    soon, later = led_to(PLAIN, "D"), led_to(PLAIN, "D")
    soon.wait(30).on()
    later.wait(30.1).on()
    assert (soon.state.occurrence, soon.state.repeats) == ("o1", 1)
    assert (later.state.occurrence, later.state.repeats) == ("o2", 0)


def test_a_critical_alarm_that_returned_is_not_closed_without_a_note() -> None:
    """Row 8."""
    machine = led_to(AlarmClass("p1", Priority.CRITICAL), "B")
    machine.off()
    assert refused(machine.ack(note=" "))
    assert rows(machine.ack(note="heater was unplugged")) == ["8"]


def test_review_of_an_alarm_with_eggs_inside_is_within_a_day() -> None:
    machine = known(PLAIN)
    too_late = machine.now_ms + DAY_MS + 1
    wish = RemoveFromService("ana", "broken", "hand thermometer", too_late, eggs_inside=True)
    assert refused(machine.do(wish))
    assert machine.state.out is None
