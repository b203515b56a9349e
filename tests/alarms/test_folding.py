"""Which alarm is the consequence of which. The cause is told, its consequences are not; X-18: lethal limits are.

The pairs below are written from what is connected with what: mains feeds heat, gateway and broker; a probe's readings
come through the probe. Common practice, no source.
"""

from dataclasses import replace

import pytest

from config.words import Priority
from daemon.alarms.classes import MINUTE_MS, Mode
from daemon.alarms.folding import LEAD_MS, AlarmOn, Heard, Role, fold, silent_together_since
from tests.alarms.machine import START_MS

MAY = frozenset({Mode.CAUSE, Mode.WORSE})


def alarm(role: Role, priority: Priority = Priority.HIGH, **more: object) -> AlarmOn:
    plain = AlarmOn(role.value, role, priority, START_MS, "north", "north/top", "p1", MAY)
    return replace(plain, **more)  # type: ignore[arg-type]


def site(role: Role, priority: Priority = Priority.CRITICAL) -> AlarmOn:
    return AlarmOn(role.value, role, priority, START_MS)


MAINS = site(Role.MAINS_LOST)


@pytest.mark.parametrize(
    ("cause", "role"),
    [
        (MAINS, Role.BROKER_LOST),
        (MAINS, Role.SITE_SILENT),
        (MAINS, Role.NO_DATA),
        (MAINS, Role.LOW),
        (MAINS, Role.FALLING),
        (MAINS, Role.HUMIDITY),
        (MAINS, Role.CONDENSATION),
        (site(Role.BROKER_LOST), Role.SITE_SILENT),
        (site(Role.BROKER_LOST), Role.NO_DATA),
        (site(Role.SITE_SILENT), Role.NO_DATA),
        (alarm(Role.PROBE_FAULT), Role.NO_DATA),
        (alarm(Role.PROBE_FAULT), Role.PROBES_DISAGREE),
        (alarm(Role.DOOR_OPEN), Role.LOW),
        (alarm(Role.DOOR_OPEN), Role.FALLING),
        (alarm(Role.DOOR_OPEN), Role.HUMIDITY),
        (alarm(Role.LETHAL_HIGH, Priority.CRITICAL), Role.HIGH),
        (alarm(Role.LETHAL_LOW, Priority.CRITICAL), Role.LOW),
        (alarm(Role.LETHAL_LOW, Priority.CRITICAL), Role.FALLING),
    ],
)
def test_a_consequence_is_folded_under_its_cause(cause: AlarmOn, role: Role) -> None:
    effect = alarm(role)
    found = fold([effect, cause])
    assert set(found) == {effect.key}
    assert found[effect.key].root == cause.key
    assert found[effect.key].mode is (Mode.WORSE if cause.role.is_lethal else Mode.CAUSE)


@pytest.mark.parametrize("lethal", [Role.LETHAL_HIGH, Role.LETHAL_LOW])
def test_a_lethal_limit_is_the_consequence_of_nothing(lethal: Role) -> None:
    """X-18: mains lost, lethal low still free to call."""
    everything = [alarm(role) for role in Role if role is not lethal] + [MAINS]
    found = fold([*everything, alarm(lethal, Priority.CRITICAL)])
    assert lethal.value not in found


def test_too_warm_does_not_follow_from_lost_mains() -> None:
    assert fold([MAINS, alarm(Role.HIGH)]) == {}


def test_consequences_of_consequences_are_folded_under_the_root() -> None:
    found = fold(
        [MAINS, site(Role.BROKER_LOST, Priority.HIGH), site(Role.SITE_SILENT, Priority.HIGH), alarm(Role.NO_DATA)]
    )
    assert {each.root for each in found.values()} == {MAINS.key}
    assert len(found) == 3


def test_the_root_is_found_also_where_it_explains_a_consequence_only_through_another() -> None:
    """Silence, broker and mains, each noticed eight minutes after the one before."""
    times = (START_MS, START_MS + 8 * MINUTE_MS, START_MS + 16 * MINUTE_MS)
    silent = alarm(Role.NO_DATA, since_ms=times[0])
    broker, mains = replace(site(Role.BROKER_LOST), since_ms=times[1]), replace(MAINS, since_ms=times[2])
    assert fold([silent, broker, mains])[silent.key].root == mains.key


@pytest.mark.parametrize(
    ("cause", "effect"),
    [
        (alarm(Role.PROBE_FAULT), alarm(Role.NO_DATA, probe="p2")),
        (alarm(Role.PROBE_FAULT, probe=""), alarm(Role.NO_DATA, probe="")),
        (alarm(Role.DOOR_OPEN), alarm(Role.LOW, incubator="south")),
        (alarm(Role.MAINS_LOST, incubator="south"), alarm(Role.LOW)),
        (alarm(Role.LETHAL_LOW), alarm(Role.LOW, place="north/bottom")),
        (replace(MAINS, silenced=True), alarm(Role.LOW)),
        (MAINS, alarm(Role.LOW, since_ms=START_MS - LEAD_MS - 1)),
    ],
)
def test_what_is_somewhere_else_older_or_not_told_explains_nothing(cause: AlarmOn, effect: AlarmOn) -> None:
    assert fold([cause, effect]) == {}


def test_a_consequence_may_be_noticed_a_little_before_its_cause() -> None:
    assert fold([MAINS, alarm(Role.NO_DATA, since_ms=START_MS - LEAD_MS)])


def test_an_old_warning_is_folded_under_the_lethal_limit_of_its_place() -> None:
    assert fold([alarm(Role.LETHAL_HIGH, Priority.CRITICAL), alarm(Role.HIGH, since_ms=START_MS - 10 * LEAD_MS)])


def test_what_may_not_be_suppressed_shares_the_message_and_stays_unacknowledged() -> None:
    """The silence of the last probe under lost mains: one message, and not suppressed."""
    last = alarm(Role.NO_DATA, Priority.CRITICAL, suppressible_by=frozenset())
    (found,) = fold([MAINS, last]).values()
    assert (found.root, found.mode) == (MAINS.key, None)


def test_a_consequence_more_urgent_than_its_cause_is_not_suppressed() -> None:
    fault = alarm(Role.PROBE_FAULT, Priority.LOW)
    (found,) = fold([fault, alarm(Role.NO_DATA, Priority.HIGH)]).values()
    assert (found.root, found.mode) == (fault.key, None)


def test_the_order_of_the_alarms_does_not_matter() -> None:
    alarms = [alarm(role) for role in Role] + [MAINS]
    assert fold(alarms) == fold(list(reversed(alarms)))


def heard(*ago_s: float | None, window_s: float = 90) -> list[Heard]:
    return [Heard(None if ago is None else START_MS - round(ago * 1000), round(window_s * 1000)) for ago in ago_s]


def test_probes_that_fall_silent_together_point_to_what_they_share() -> None:
    assert silent_together_since(heard(100, 110, 120), START_MS) == START_MS - 100_000
    # one that fell silent long before does not belong to it
    assert silent_together_since(heard(100, 110, 600), START_MS) is None
    assert silent_together_since(heard(100, 60), START_MS) is None
    assert silent_together_since(heard(100, None), START_MS) is None
    assert silent_together_since(heard(100), START_MS) is None
    assert silent_together_since([], START_MS) is None


def test_the_longest_window_decides_what_together_is() -> None:
    slow = Heard(START_MS - 400_000, 5 * MINUTE_MS)
    assert silent_together_since([*heard(100), slow], START_MS) == START_MS - 100_000
    assert silent_together_since([*heard(99), replace(slow, newest_ms=START_MS - 399_001)], START_MS) is None
