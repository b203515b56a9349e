"""What is said of a place with a venomous or dangerous clutch, whatever else a text has to hold."""

from dataclasses import replace
from itertools import product

import pytest

from config.words import AlarmKind
from daemon.alarm_near import DANGEROUS, PROTOCOL
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.wording import Stage, alert_text
from tests.alarms.test_wording_lint import NAMES, check_form, facts

CAUTION = "Venomous: trained handlers only."


@pytest.mark.parametrize(("kind", "names"), list(product(AlarmKind, NAMES)))
def test_every_text_that_may_send_somebody_says_it_first_and_leaves_nothing_out(kind: AlarmKind, names: str) -> None:
    said = (CAUTION, f"{DANGEROUS}.")
    for caution, stage, fahrenheit in product(said, (Stage.RAISED, Stage.STILL), (False, True)):
        given = facts(kind, stage, fahrenheit, names, must_say=caution.removesuffix("."), caution=PROTOCOL)
        text = alert_text(given)
        check_form(given, text)
        first, _, action, time_left, *_ = text.body.splitlines()
        assert (first, action) == (caution, DEFINITIONS[kind].first_action)
        assert time_left.startswith("Time left: ")


@pytest.mark.parametrize("stage", [Stage.TAKEN, Stage.REVIEW, Stage.TEST])
def test_what_is_told_afterwards_says_it_too(stage: Stage) -> None:
    given = facts(AlarmKind.TEMPERATURE_HIGH, stage, fahrenheit=False, names="long")
    assert alert_text(replace(given, must_say=CAUTION.removesuffix("."))).body.startswith(CAUTION)


def test_what_is_over_sends_nobody() -> None:
    given = facts(AlarmKind.TEMPERATURE_HIGH, Stage.CLEARED, fahrenheit=False, names="short")
    assert CAUTION not in alert_text(replace(given, must_say=CAUTION.removesuffix("."))).body
    still = replace(given, must_say=CAUTION.removesuffix("."), still_out=AlarmKind.TEMPERATURE_LOW)
    assert CAUTION in alert_text(still).body
