"""What was done by a button is said on the page that follows: to whoever pressed it, there alone, and not for long."""

import re

import pytest

from daemon.access.values import Role, Visitor
from dashboards import said
from dashboards.said import come_to, said_here, say
from dashboards.visiting import visit
from tests.dashboards.asking import ask
from tests.dashboards.test_acknowledge_here import HERE, first_alarm
from tests.support.called import CalledHouse
from tests.support.doors import as_in_the_demo

SAID = re.compile(r'<p class="said" role="status">.*?</svg> (.*?)</p>', re.DOTALL)


def test_the_first_page_says_which_alarm_was_acknowledged(drifted: CalledHouse) -> None:
    demo, fields = drifted.pages(as_in_the_demo()), first_alarm(drifted)
    guard = dict(re.findall(r'name="(guard)" value="([^"]*)"', ask(demo, "/", headers=HERE).text))
    assert drifted.send("/alarms/acknowledge", {**fields, **guard}, HERE, demo).status_code == 303
    [told] = SAID.findall(ask(demo, "/", headers=HERE).text)
    assert told.startswith("Acknowledged: ")
    assert "too warm" in told
    assert "Nobody is called for this any more" in told
    assert SAID.findall(ask(demo, "/clutches", headers=HERE).text) == []


def visiting(guard: str, path: str) -> None:
    visit(Visitor("mara", Role.KEEPER, guard=guard))
    come_to(path)


def test_it_is_said_to_whoever_pressed_and_where_they_come_to() -> None:
    visiting("one", "/set-up/people")
    say("Saved: Jonas.", "/set-up/people")
    assert said_here() == "Saved: Jonas."
    for guard, path in (("one", "/"), ("two", "/set-up/people"), ("", "/set-up/people")):
        visiting(guard, path)
        assert said_here() == ""


def test_what_takes_a_new_start_is_said_in_two_steps() -> None:
    visit(Visitor("mara", Role.KEEPER, guard="four"))
    come_to("/set-up/people", "first start")
    say("Saved: Jonas. It is taken up now.", "/set-up/people", then="Saved: Jonas. It counts now.")
    assert (said_here(), said.awaits_new_start()) == ("Saved: Jonas. It is taken up now.", True)
    come_to("/set-up/people", "second start")
    assert (said_here(), said.awaits_new_start()) == ("Saved: Jonas. It counts now.", False)


def test_nobody_and_a_program_are_told_nothing() -> None:
    for who in (None, Visitor("collector", Role.KEEPER)):
        visit(who)
        come_to("/")
        say("Saved.", "/")
        assert said_here() == ""


def test_it_is_said_for_a_while_only_and_the_newest_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    visiting("three", "/")
    say("Saved: first.", "/")
    say("Saved: second.", "/")
    assert said_here() == "Saved: second."
    monkeypatch.setattr(said, "SHOWN_FOR_S", 0.0)
    say("Saved: third.", "/")
    assert said_here() == ""
