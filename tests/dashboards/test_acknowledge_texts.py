"""The texts of the page behind a link, and how long whoever tries links has to wait."""

from dataclasses import replace
from itertools import product

import pytest

from config.words import AlarmKind, Priority
from daemon.alarm_desk_values import Seen
from daemon.alarms.state_values import Shown
from daemon.answer_values import Called, CalledAlarm, Wish
from dashboards.acknowledge import acknowledge_view
from dashboards.rendering import render
from dashboards.unknown_links import FREE_ATTEMPTS, LONGEST_WAIT_S, MOST_ADDRESSES, UnknownLinks
from tests.support.called import action_of

HERE = {"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "same-origin"}


def a_called(kind: AlarmKind, state: str, who: str = "Ben") -> CalledAlarm:
    waits = state in (Shown.UNACKNOWLEDGED, Shown.RETURNED, Shown.LATCHED_UNACKNOWLEDGED)
    is_on = state in (Shown.UNACKNOWLEDGED, Shown.ACKNOWLEDGED, Shown.SHELVED)
    return CalledAlarm(
        key=f"{kind}:north-air/air",
        kind=kind,
        priority=Priority.CRITICAL,
        headline="CRITICAL North cabinet: 36.0 °C, dangerously hot",
        state=state,
        in_alarm=is_on,
        since_ms=None if state == "over" else 0,
        acknowledged_by=who if "acknowledged" in state and not waits else "",
        shelved_until_ms=3_600_000 if state == Shown.SHELVED else None,
        first_action="Unplug the heater." if is_on else "",
        caution="Dangerous animals inside: your written protocol first, never alone",
        seen=Seen("x", "o", 1),
        waits=waits,
    )


def with_said(alarm: CalledAlarm, said: str) -> CalledAlarm:
    return replace(alarm, said=said)


CASES = list(product(AlarmKind, [*(each for each in Shown if each is not Shown.NORMAL), "over"]))


@pytest.mark.parametrize(("kind", "state"), CASES)
def test_every_text_of_the_page_is_for_a_person(kind: AlarmKind, state: str) -> None:
    answers: list[tuple[Wish | None, bool | None]] = [(None, None)]
    answers += list(product(Wish, (True, False)))
    for wish, accepted in answers:
        called = Called("Ana", "Europe/Berlin", 7_200_000, (a_called(kind, state),), "T", wish, accepted)
        view = acknowledge_view(called, "/a/T")
        [alarm] = view.alarms
        sentences = [*view.lines, alarm.state, alarm.since, alarm.first_action, alarm.caution]
        assert all(each.endswith((".", ".)")) and each == each.strip() for each in sentences if each)
        assert view.heading
        assert not view.heading.endswith(".")
        shown = " ".join([view.heading, *sentences])
        assert "None" not in shown
        assert "_" not in shown
        assert "!" not in shown
        assert kind.value not in shown
        assert alarm.mark.word
        assert bool(view.action) is called.waits
        page = render("acknowledge.html", view=view, longest_note=500)
        assert page.count("<h1") == 1
        assert page.count("I see to it") == int(called.waits)


def test_a_refusal_for_want_of_a_note_is_a_sentence_and_the_same_link_answers_with_one() -> None:
    alarm = a_called(AlarmKind.TEMPERATURE_LETHAL_HIGH, Shown.RETURNED)
    reason = "Say in a note what you found there; a critical alarm is not closed without."
    called = Called("Ana", "UTC", 0, (with_said(alarm, reason),), "T", Wish.ACKNOWLEDGE, accepted=False)
    page = render("acknowledge.html", view=acknowledge_view(called, "/a/T"), longest_note=500)
    assert reason in page
    assert action_of(page) == "/a/T"


def test_the_wait_grows_ends_is_bounded_and_so_is_what_is_remembered() -> None:
    unknown, now_s, waits = UnknownLinks(), 0.0, []
    for _ in range(FREE_ATTEMPTS):
        assert unknown.failed("192.0.2.1", now_s) == 0
    for _ in range(20):
        waits.append(unknown.failed("192.0.2.1", now_s))
        now_s += waits[-1]
        assert unknown.failed("192.0.2.1", now_s) == 0
    assert max(waits) == LONGEST_WAIT_S
    assert waits == sorted(waits)
    assert len(set(waits)) > 5
    site = [unknown.failed(f"2001:db8::{number:x}", now_s) for number in range(1, 10)]
    assert site[-1] > 0
    for number in range(2 * MOST_ADDRESSES):
        unknown.failed(f"10.0.{number // 256}.{number % 256}", now_s)
    assert len(unknown._failed) == MOST_ADDRESSES
