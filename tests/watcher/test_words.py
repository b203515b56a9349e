"""The watcher's messages keep the rules of all messages; and what counts as a well answer."""

import json
from itertools import product
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import Priority
from daemon.alarms.delivery import MessageKind, MessageStatus, as_sent
from daemon.watcher.health_answer import judge, judge_heartbeat
from daemon.watcher.rules import Incident, NotWell, Policy, Tell, Told, Well
from daemon.watcher.wording import message, short, trial

NOW = 1_780_000_000_000
SITES = ("Ana", "Alder Lane hatchery", "The big house beside the river, cellar, second room on the left")
TROUBLES = (
    "",
    "no answer: it could not be reached in time",
    "The broker is not connected: connection refused. " * 9,
)
LINK = "https://watcher.example/answer/abc"


@pytest.mark.parametrize(("what", "site", "trouble", "who"), list(product(Told, SITES, TROUBLES, ("Ana", "x" * 200))))
def test_every_message_is_short_complete_and_calm(what: Told, site: str, trouble: str, who: str) -> None:
    incident = Incident("i", "t", NOW - 11 * 86_400_000, 3, 0.0, answered_s=0.0, who=who)
    sent = message(Tell(what, incident, trouble), site, ZoneInfo("Europe/Berlin"), Policy(), NOW, LINK)
    lines = sent.body.splitlines()
    calls = what in (Told.SILENT, Told.STILL)
    if calls:
        assert lines.pop() == f"Answer: {LINK}"
        assert [line for line in lines if line.startswith("Look at the thermometers")]
        assert "Time left: unknown, look within the hour." in lines
        assert " CRITICAL " in f" {sent.headline}"
        assert sent.priority is Priority.CRITICAL
    assert LINK not in "".join(lines)
    assert len(sent.headline) <= 60
    assert len("\n".join([sent.headline, *lines])) <= 300
    assert all(line == line.strip() and line.endswith(".") for line in lines)
    assert "!" not in sent.headline + sent.body
    assert "None" not in sent.body
    assert ("Why: " in sent.body) is (calls and bool(trouble))


def test_a_reason_that_is_too_long_ends_after_a_word() -> None:
    text = "no connection: refused, no way to it, or its name"
    assert short(text, 45) == "no connection: refused, no way to it, or..."
    assert short(text, 40) == "no connection: refused, no way to it..."
    assert short("x" * 60, 10) == "x" * 7 + "..."


def test_the_trial_says_test_first_and_that_nothing_is_wrong() -> None:
    for site in SITES:
        sent = as_sent(trial(site, "x"), NOW)
        assert sent.headline.startswith("TEST: ")
        assert sent.headline.endswith("nothing is wrong")
        assert len(sent.headline) <= 60
        assert (sent.kind, sent.status) == (MessageKind.TEST, MessageStatus.TEST)


def body(**said: Any) -> bytes:
    return json.dumps(said).encode()


def test_only_a_clear_yes_is_well() -> None:
    assert judge(200, body(healthy=True, reasons=[])) == Well()
    assert judge(503, body(healthy=False, reasons=["No reading has arrived yet."])) == NotWell(
        "No reading has arrived yet."
    )
    assert isinstance(judge(503, body(healthy=True, reasons=[])), NotWell)
    assert isinstance(judge(200, body(healthy=False, reasons=[])), NotWell)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<html>router login</html>",
        b"{}",
        b"[]",
        b'{"healthy": "true"}',
        b'{"healthy": 1}',
        b"\xff",
        b"[" * 60_000,
    ],
)
def test_an_answer_of_something_else_is_not_well_and_says_so(content: bytes) -> None:
    answer = judge(200, content)
    assert isinstance(answer, NotWell)
    assert "not as clutchwarden does" in answer.trouble


@given(st.integers(100, 599), st.binary(max_size=200))
def test_no_noise_is_taken_for_well(status: int, content: bytes) -> None:
    assert isinstance(judge(status, content), NotWell)


def test_a_heartbeat_may_be_empty_or_say_what_is_wrong() -> None:
    assert judge_heartbeat(b"") == Well()
    assert judge_heartbeat(body(healthy=True)) == Well()
    assert judge_heartbeat(body(healthy=False, reasons=["a.", "b.", "c.", "d."])) == NotWell("a. b. c. And 1 more.")
    assert judge_heartbeat(b"<html>") is None
