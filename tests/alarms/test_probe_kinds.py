"""What the silence of a probe means where no egg depends on it, and a contact's value in a message."""

from datetime import UTC

import pytest

from config.words import AlarmKind, Priority, Quantity
from daemon.alarm_desk_values import Entry
from daemon.alarm_transition import Transition
from daemon.alarms import classes
from daemon.alarms.conditions import Change
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.figures import value_text
from daemon.alarms.probe_kinds import of_probe
from daemon.alarms.room_probe import of_room
from daemon.alarms.state_values import AlarmState
from daemon.alarms.wording import LONGEST_HEADLINE, LONGEST_TEXT, AlertFacts, Stage, alert_text
from sensors.reading import ChannelKey

NOW_MS = 1_780_000_000_000
NO_DATA = DEFINITIONS[AlarmKind.NO_DATA]


@pytest.mark.parametrize("place", ["north", "room"])
@pytest.mark.parametrize(
    ("quantity", "later"), [(Quantity.MAINS, "A power cut is"), (Quantity.DOOR, "A door left open is")]
)
def test_a_silent_contact_is_looked_at_today_and_says_nothing_of_eggs(
    place: str, quantity: Quantity, later: str
) -> None:
    found = of_probe(NO_DATA, place, quantity)
    assert found.priority is Priority.LOW
    assert found.consequence.startswith(later)
    assert found.first_action == f"Check battery, plug and network of the {quantity} contact."


def test_a_thermometer_keeps_its_words_and_the_room_has_its_own() -> None:
    assert of_probe(NO_DATA, "north", Quantity.AIR_TEMPERATURE) == NO_DATA
    assert of_probe(NO_DATA, "room", Quantity.AIR_TEMPERATURE) == of_room(NO_DATA)


def test_an_alarm_about_what_a_contact_says_is_as_urgent_as_ever() -> None:
    lost = DEFINITIONS[AlarmKind.MAINS_LOST]
    assert of_probe(lost, "north", Quantity.MAINS) == lost
    assert of_probe(lost, "", None) == lost


@pytest.mark.parametrize(
    ("quantity", "place", "alarm"),
    [
        (Quantity.AIR_TEMPERATURE, "north", classes.NO_DATA),
        (Quantity.AIR_TEMPERATURE, "room", classes.PROBE_FAULT),
        (Quantity.DOOR, "north", classes.PROBE_FAULT),
        (Quantity.MAINS, "room", classes.PROBE_FAULT),
    ],
)
def test_the_desk_manages_it_by_the_same_urgency(quantity: Quantity, place: str, alarm: classes.AlarmClass) -> None:
    key = ChannelKey("p/c", "p", "c", quantity)
    raised = Transition(
        AlarmKind.NO_DATA, key, place, Change.RAISED, NOW_MS, NOW_MS, None, None, None, "o", True, (), "", "p/c"
    )
    found = Entry(AlarmState(), raised).alarm
    assert found is alarm
    assert found.priority is of_probe(NO_DATA, place, quantity).priority


@pytest.mark.parametrize("fahrenheit", [False, True])
def test_what_a_contact_said_last_is_told_in_words(fahrenheit: bool) -> None:
    assert value_text(1.0, Quantity.DOOR, fahrenheit) == "door open"
    assert value_text(0.0, Quantity.MAINS, fahrenheit, beside=1.0) == "mains absent"
    facts = AlertFacts(
        stage=Stage.RAISED,
        definition=of_probe(NO_DATA, "north", Quantity.DOOR),
        place="North cabinet",
        quantity=Quantity.DOOR,
        since_ms=NOW_MS - 60_000,
        now_ms=NOW_MS,
        zone=UTC,
        fahrenheit=fahrenheit,
        value=1.0,
        last_reading_ms=NOW_MS - 240_000,
    )
    text = alert_text(facts)
    assert text.headline == "CHECK North cabinet: no readings for 4 min"
    assert text.body.startswith(
        "Last reading 20:22, 4 min ago: door open.\nCheck battery, plug and network of the door"
    )
    assert len(text.headline) <= LONGEST_HEADLINE
    assert len(f"{text.headline}\n{text.body}") <= LONGEST_TEXT
