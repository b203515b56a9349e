"""Alarm definitions. Rule: an alarm needs a defined response (ISA-18.2, definition of alarm; HSE Chemicals Sheet 6)."""

from dataclasses import replace
from typing import Any

import pytest

from config.site import AlarmTuning
from config.words import AlarmKind, Priority
from daemon.alarm_desk_values import MANAGED
from daemon.alarms.definition import LONGEST_LETHAL_ON_DELAY_S
from daemon.alarms.definitions import DEFINITIONS, tuned

LETHAL = (AlarmKind.TEMPERATURE_LETHAL_HIGH, AlarmKind.TEMPERATURE_LETHAL_LOW)

# Requirement table of this project: kind, priority, on-delay s, deadband, off-delay s.
TIMING = [
    (AlarmKind.TEMPERATURE_LETHAL_HIGH, Priority.CRITICAL, 60, 0.3, 5 * 60),
    (AlarmKind.TEMPERATURE_HIGH, Priority.HIGH, 5 * 60, 0.2, 10 * 60),
    (AlarmKind.TEMPERATURE_LOW, Priority.LOW, 15 * 60, 0.2, 10 * 60),
    (AlarmKind.TEMPERATURE_LETHAL_LOW, Priority.CRITICAL, 5 * 60, 0.3, 10 * 60),
    (AlarmKind.HUMIDITY_LOW, Priority.LOW, 30 * 60, 3, 30 * 60),
    (AlarmKind.HUMIDITY_HIGH, Priority.LOW, 30 * 60, 3, 30 * 60),
]


def test_every_kind_has_a_definition_under_its_own_name() -> None:
    assert {kind: definition.kind for kind, definition in DEFINITIONS.items()} == {kind: kind for kind in AlarmKind}


@pytest.mark.parametrize(("kind", "priority", "on_delay_s", "deadband", "off_delay_s"), TIMING)
def test_timing_is_that_of_the_requirement_table(
    kind: AlarmKind, priority: Priority, on_delay_s: float, deadband: float, off_delay_s: float
) -> None:
    found = DEFINITIONS[kind]
    assert (found.priority, found.on_delay_s, found.deadband, found.off_delay_s) == (
        priority,
        on_delay_s,
        deadband,
        off_delay_s,
    )


def test_only_lethal_heat_is_told_at_once_and_from_one_degree_beyond() -> None:
    at_once = {kind: each.at_once_beyond for kind, each in DEFINITIONS.items() if each.at_once_beyond is not None}
    assert at_once == {AlarmKind.TEMPERATURE_LETHAL_HIGH: 1.0}


@pytest.mark.parametrize("name", ["cause", "consequence", "first_action", "time_available"])
@pytest.mark.parametrize("text", ["", "  \n"])
def test_a_definition_with_an_empty_text_cannot_be_made(name: str, text: str) -> None:
    change: dict[str, Any] = {name: text}
    with pytest.raises(ValueError, match=name):
        replace(DEFINITIONS[AlarmKind.NO_DATA], **change)


@pytest.mark.parametrize(
    ("name", "figure"),
    [
        ("on_delay_s", -1.0),
        ("off_delay_s", float("nan")),
        ("deadband", float("inf")),
        ("at_once_beyond", 0.0),
        ("first_action", "Do " * 40),
    ],
)
def test_a_definition_with_an_impossible_figure_cannot_be_made(name: str, figure: Any) -> None:
    change: dict[str, Any] = {name: figure}
    with pytest.raises(ValueError, match=name):
        replace(DEFINITIONS[AlarmKind.TEMPERATURE_LETHAL_HIGH], **change)


def test_tuning_changes_what_is_stated_and_keeps_the_rest() -> None:
    found = tuned(AlarmKind.TEMPERATURE_LOW, {AlarmKind.TEMPERATURE_LOW: AlarmTuning(on_delay_s=1200.0, deadband=0.0)})
    assert found == replace(DEFINITIONS[AlarmKind.TEMPERATURE_LOW], on_delay_s=1200.0, deadband=0.0)


def test_tuning_of_another_kind_changes_nothing() -> None:
    tunings = {AlarmKind.TEMPERATURE_HIGH: AlarmTuning(off_delay_s=1.0)}
    assert tuned(AlarmKind.TEMPERATURE_LOW, tunings) == DEFINITIONS[AlarmKind.TEMPERATURE_LOW]


@pytest.mark.parametrize("kind", LETHAL)
def test_a_lethal_limit_cannot_be_made_too_patient(kind: AlarmKind) -> None:
    longest = LONGEST_LETHAL_ON_DELAY_S[kind]
    assert tuned(kind, {kind: AlarmTuning(on_delay_s=longest)}).on_delay_s == longest
    with pytest.raises(ValueError, match="eggs can be lost while an alarm waits"):
        tuned(kind, {kind: AlarmTuning(on_delay_s=longest + 1)})


def test_critical_is_what_can_kill_eggs_now_and_what_leaves_them_unwatched() -> None:
    unwatched = (AlarmKind.NO_DATA_LONG, AlarmKind.LAST_PROBE_SILENT, AlarmKind.SITE_SILENT, AlarmKind.JOURNAL_FAILING)
    critical = {kind for kind, definition in DEFINITIONS.items() if definition.priority is Priority.CRITICAL}
    assert critical == {*LETHAL, AlarmKind.MAINS_LOST, *unwatched}


@pytest.mark.parametrize("kind", list(AlarmKind))
def test_an_alarm_is_managed_by_a_class_of_its_own_priority(kind: AlarmKind) -> None:
    assert MANAGED[kind][0].priority is DEFINITIONS[kind].priority


@pytest.mark.parametrize("kind", LETHAL)
def test_lethal_alarms_are_the_quickest_on_their_side(kind: AlarmKind) -> None:
    warning = AlarmKind(kind.replace("lethal-", ""))
    assert DEFINITIONS[kind].on_delay_s < DEFINITIONS[warning].on_delay_s
