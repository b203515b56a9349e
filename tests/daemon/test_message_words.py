"""What messages say of other people, of other alarms, and of what is left to do."""

import itertools
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from config.places import Places
from config.words import AlarmKind
from daemon.alarm_desk_calls import together
from daemon.alarm_desk_values import CallOut, Outcome, Seen
from daemon.alarms.classes import HOUR_MS
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage
from daemon.alarms.events import Shelve
from daemon.alerts import AlertWriter
from daemon.desk_messages import DeskMessages
from daemon.occupancy import Occupancy
from tests.alarms.machine import START_MS
from tests.daemon.called import House
from tests.daemon.changing import AIR, BOX_PROBE, Changing
from tests.support.called import HIGH, LETHAL, CalledHouse, called_house
from tests.support.journals import new_journal

TOO_WARM_C, LETHAL_C, GOOD_C = 31.0, 41.0, 28.0
HELD = f"Held until somebody has looked: clutchwarden alarms reset {LETHAL}."
LOOK = "Nobody has acknowledged it: look what it was."
NOTHING_LEFT = "Nothing more to do for this alarm."


@pytest.fixture
def house(tmp_path: Path) -> Iterator[CalledHouse]:
    """It has been too warm for a quarter of an hour."""
    with called_house(tmp_path) as made:
        made.minutes(5, GOOD_C)
        made.minutes(15, TOO_WARM_C)
        yield made


def line(message: OutgoingMessage, label: str) -> str:
    """The line of a message that begins so; empty where there is none."""
    return next((each for each in message.body.splitlines() if each.startswith(label)), "")


def answer(house: CalledHouse, key: str) -> None:
    """Ana acknowledges."""
    house.journal.write(lambda conn: house.work.acknowledge(conn, [key], "ana", "seen", house.now_ms))


def cleared(house: CalledHouse, minutes: int) -> list[OutgoingMessage]:
    """What people are told while it is good again for so long."""
    before = len(house.messages())
    house.minutes(minutes, GOOD_C)
    return [each for each in house.messages()[before:] if each.headline.startswith("CLEARED")]


def test_whoever_is_called_next_reads_who_was_told_and_who_cannot_go(house: CalledHouse) -> None:
    house.minutes(15, TOO_WARM_C)
    assert line(house.messages("ben")[-1], "Told:") == "Told: Ana."


def test_whoever_cannot_go_is_named_so(house: CalledHouse) -> None:
    with house.journal.read() as conn:
        state = house.work.read(conn).entries[HIGH].state
    seen = [Seen(HIGH, state.occurrence, state.version)]
    house.journal.write(lambda conn: house.work.cannot(conn, seen, "ana", house.now_ms))
    assert line(house.messages("ben")[-1], "Told:") == "Told: Ana (cannot go)."


def test_one_that_nobody_acknowledged_says_so_when_it_is_over(house: CalledHouse) -> None:
    told = cleared(house, 30)
    assert told
    assert all(LOOK in each.body and NOTHING_LEFT not in each.body for each in told)


def test_one_that_somebody_acknowledged_leaves_nothing_to_do(house: CalledHouse) -> None:
    answer(house, HIGH)
    told = cleared(house, 30)
    assert told
    assert all(NOTHING_LEFT in each.body for each in told)


def test_one_that_is_held_says_how_it_is_released_each_time(house: CalledHouse) -> None:
    """The first message that it is over, and every reminder that nobody has looked."""
    house.minutes(12, LETHAL_C)
    told = [each for each in cleared(house, 90) if each.alarm is AlarmKind.TEMPERATURE_LETHAL_HIGH]
    assert {each.kind for each in told} == {MessageKind.CLEARED, MessageKind.REMINDER}
    assert all(HELD in each.body and NOTHING_LEFT not in each.body for each in told)


BOX = "temperature-high:boxp/air"


@pytest.fixture
def warm(tmp_path: Path) -> Iterator[Changing]:
    """A shelf and a box on it that are both too warm."""
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        made = Changing(journal, tmp_path / "site", BOX_PROBE.format(place="north/upper/N1"))
        made.enter()
        made.minutes(5, {AIR: GOOD_C, "boxp/air": GOOD_C})
        made.minutes(15, {AIR: TOO_WARM_C, "boxp/air": TOO_WARM_C})
        yield made


def also(house: Changing) -> str:
    """What a call about the shelf at this moment says of the box."""
    places, desk = Places(house.site), house.desk()
    outcome = Outcome(calls=[replace(call(HIGH, BOX), at_ms=house.now_ms)])
    occupancy = Occupancy((), places, house.profiles)
    messages = DeskMessages(house.site, places, AlertWriter(house.site, places, MessageStatus.ACTUAL))
    with house.journal.read() as conn:
        [written] = messages.of(conn, outcome, desk, {}, occupancy, house.now_ms).messages
    return line(OutgoingMessage.from_json(written.body), "Also:")


def test_what_else_waits_for_somebody_stands_in_a_call(warm: Changing) -> None:
    assert also(warm) == "Also: North cabinet, upper shelf, box N1: too warm."


def test_what_somebody_has_acknowledged_is_no_news_in_a_call(warm: Changing) -> None:
    warm.acknowledge(BOX)
    assert also(warm) == ""


def test_what_is_held_back_is_no_news_in_a_call(warm: Changing) -> None:
    shelf = Shelve("ana", "its lid is open", warm.now_ms + HOUR_MS)
    warm.journal.write(lambda conn: warm.work.do(conn, {BOX: shelf}, warm.now_ms))
    assert also(warm) == ""


def test_what_is_over_is_no_news_in_a_call(warm: Changing) -> None:
    warm.minutes(12, {AIR: TOO_WARM_C, "boxp/air": GOOD_C})
    assert str(warm.desk().entries[BOX].state.shown) == "returned to normal unacknowledged"
    assert also(warm) == ""


FAULT, DAMP, HOT, SILENT = (
    f"{kind}:{subject}/air"
    for kind, subject in (
        (AlarmKind.PROBE_FAULT, "p1"),
        (AlarmKind.HUMIDITY_HIGH, "p2"),
        (AlarmKind.TEMPERATURE_LETHAL_HIGH, "p3"),
        (AlarmKind.NO_DATA_LONG, "p4"),
    )
)


def desk_with(*keys: str) -> House:
    """A desk with these alarms on, each of a probe of its own."""
    house = House()
    for key in keys:
        kind, subject = key.split(":")
        house.on(AlarmKind(kind), subject=subject)
    return house


def call(lead: str, *others: str, contact: str = "ana/push") -> CallOut:
    return CallOut("ana", (contact,), f"incident of {lead}", lead, others, 1, 1, START_MS, ())


@pytest.mark.parametrize("order", list(itertools.permutations([FAULT, DAMP, HOT, SILENT])))
def test_of_several_calls_at_one_moment_the_most_urgent_leads_and_the_others_follow_by_urgency(
    order: tuple[str, ...],
) -> None:
    """Dangerously hot and a probe long silent are critical, and what kills eggs now comes first of the two."""
    entries = desk_with(FAULT, DAMP, HOT, SILENT).desk.entries
    priorities = {key: int(entries[key].alarm.priority) for key in order}
    assert (priorities[HOT], priorities[SILENT]) == (1, 1)
    one = together([call(each) for each in order], entries)
    assert one.lead == HOT
    assert one.others[0] == SILENT
    assert [priorities[key] for key in one.others] == sorted(priorities[key] for key in one.others)
    assert set(one.others) == {SILENT, FAULT, DAMP}


def test_an_alarm_that_two_calls_name_stands_there_once_and_all_contacts_are_kept() -> None:
    entries = desk_with(FAULT, HOT, SILENT).desk.entries
    one = together([call(HOT, FAULT, SILENT), call(SILENT, FAULT, contact="ana/sms"), call(FAULT)], entries)
    assert one.others == (SILENT, FAULT)
    assert one.contacts == ("ana/push", "ana/sms")


def test_of_two_of_one_urgency_what_waits_for_somebody_comes_first() -> None:
    second = FAULT.replace("p1", "p9")
    house = desk_with(FAULT, second, HOT).until(2)
    house.acknowledge(FAULT)
    entries = house.desk.entries
    assert together([call(HOT, FAULT, second)], entries).others == (second, FAULT)
    assert together([call(HOT, second, FAULT)], entries).others == (second, FAULT)
