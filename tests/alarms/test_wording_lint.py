"""Machine checks of the text rules over every kind, stage, unit, length of names and missing fact.

X-44 of the checks in tests/alarms/README.md.
"""

import re
import unicodedata
from itertools import product
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from config.words import AlarmKind, Quantity
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.wording import AlertFacts, AlertText, Stage, alert_text
from daemon.alarms.wrong import LIMITED, OVER, SILENT, WRONG

NOW = 1_761_438_600_000  # 26 October 2025 00:30 UTC, in the hour that comes twice in Berlin
LINK = "https://incubator.example/a/7f3k"
OF_A_CHANNEL = (
    *LIMITED,
    *SILENT - {AlarmKind.LAST_PROBE_SILENT},
    AlarmKind.PROBE_FAULT,
    AlarmKind.TEMPERATURE_FALLING,
    AlarmKind.TEMPERATURE_RISING,
    AlarmKind.LIMIT_AHEAD,
    AlarmKind.LETHAL_AHEAD,
)
OF_SOMETHING = (
    AlarmKind.EXPOSURE,
    AlarmKind.NEAR_PIPPING,
    AlarmKind.HATCH_OVERDUE,
    AlarmKind.TEST_UNCONFIRMED,
    AlarmKind.DELIVERY_FAILING,
)
"""about a clutch or a contact, which is named beside the place"""
ACTION_VERBS = (
    *("Unplug", "Close", "Check", "Look", "Read", "Compare", "Go", "Bring", "Wipe", "Keep", "Free", "Move", "Prepare"),
    "Ask",
)
SHORT = {"place": "N1", "about": "C1", "told": ("Bo",), "clutches": ("C1",), "who": "Bo"}
TYPICAL = {
    "place": "North cabinet, upper shelf",
    "about": "Ball python 3",
    "told": ("Ana", "Ben"),
    "clutches": ("Ball python 3", "Corn snake 7"),
    "who": "Ana",
}
LONG = {
    "place": "Large converted refrigerator beside the window, uppermost of the shelves, box with the green lid",
    "about": "A clutch with a label that somebody wrote as if it were a letter",
    "told": tuple(f"Person with a long name {number}" for number in range(9)),
    "clutches": tuple(f"Clutch with a long name {number}" for number in range(40)),
    "also": tuple(f"Large converted refrigerator, shelf {number}: no readings" for number in range(9)),
    "who": "A person whose name is much longer than anybody would believe who has not met the family",
    "time_left": "about 3 h 20 min as measured in the spring, if the room stays warm",
    "detail": "a value of a broken or unplugged probe, changing too fast, never changing, outside what is possible",
}
NAMES = {"short": SHORT, "typical": TYPICAL, "long": LONG}
OPTIONAL = ("value", "limit", "worst", "rate_per_h", "last_reading_ms", "ended_ms")
FACTS: dict[str, Any] = {
    "since_ms": NOW - 11 * 86_400_000,
    "now_ms": NOW,
    "zone": ZoneInfo("Europe/Berlin"),
    "value": -10.04,
    "limit": -10.0,
    "worst": -12.5,
    "rate_per_h": -90.0,
    "last_reading_ms": NOW - 3_700_000,
    "ended_ms": NOW - 60_000,
    "link": LINK,
}
CASES = list(product(AlarmKind, Stage, (False, True), NAMES))


def facts(kind: AlarmKind, stage: Stage, fahrenheit: bool, names: str, **changed: Any) -> AlertFacts:
    quantity: Quantity | None = Quantity.AIR_TEMPERATURE
    given: dict[str, Any] = {**FACTS, **NAMES[names], **changed}
    if kind.startswith("humidity"):
        quantity = Quantity.RELATIVE_HUMIDITY
    if kind not in OF_SOMETHING:
        given["about"] = ""
    if kind not in OF_A_CHANNEL:
        quantity, given = None, {**given, **dict.fromkeys(("value", "limit", "worst", "rate_per_h", "last_reading_ms"))}
    return AlertFacts(stage=stage, definition=DEFINITIONS[kind], quantity=quantity, fahrenheit=fahrenheit, **given)


def check_form(given: AlertFacts, text: AlertText) -> None:
    """Length, order of the headline, and nothing that shouts."""
    severity = given.definition.priority.word
    start = {Stage.RAISED: severity, Stage.STILL: f"UPDATE {severity}", Stage.CLEARED: "CLEARED", Stage.TEST: "TEST"}
    start[Stage.TAKEN], start[Stage.REVIEW] = "ACKNOWLEDGED", severity
    if given.stage is Stage.CLEARED and given.still_out is not None:
        start[Stage.CLEARED] = f"UPDATE {DEFINITIONS[given.still_out].priority.word}"
    assert len(text.headline) <= 60
    assert re.fullmatch(rf"{start[given.stage]} [^:]+: .+", text.headline)
    shown_place = text.headline.removeprefix(start[given.stage] + " ").split(":")[0]
    assert shown_place.startswith(given.place[:7].rstrip())
    *lines, link = text.body.splitlines()
    assert link == LINK
    assert len("\n".join([text.headline, *lines])) <= 300
    assert all(line == line.strip() and line.endswith(".") for line in lines)
    whole = text.headline + text.body
    assert "!" not in whole
    assert not [each for each in whole if unicodedata.category(each) in {"So", "Cs"} and each != "°"]
    assert given.definition.kind.value not in whole  # names of the program are no words for a person
    assert "None" not in whole.replace("None heard", "")
    assert "nan" not in whole.split()


def check_content(given: AlertFacts, text: AlertText) -> None:
    """Check what each stage may not leave out."""
    kind, lines = given.definition.kind, text.body.splitlines()
    unit = "% RH" if given.quantity is Quantity.RELATIVE_HUMIDITY else "°F" if given.fahrenheit else "°C"
    other = "°C" if given.fahrenheit else "°F"
    assert other not in text.headline + text.body
    if given.stage is Stage.TEST:
        assert "nothing is wrong" in text.headline
        return
    if given.stage is Stage.REVIEW:
        assert text.headline.endswith(f": alarm off: {WRONG[kind]}")
        assert "nobody is told of it" in lines[0]
        assert lines[1] == "Test it and put it back into service, or give it a new review date."
        return
    if given.value is not None and not (kind in SILENT and given.stage is not Stage.CLEARED):
        assert re.search(rf": -?\d+(\.\d+)? {unit}, ", text.headline)
    if given.stage is Stage.CLEARED:
        assert re.match(r"Lasted (\d+ (d|h|min) ?)+", lines[0].replace(",", " "))
        assert ("Worst" in lines[0]) is (given.worst is not None and kind in LIMITED)
        return
    assert re.search(r"\d\d:\d\d", lines[0])
    if given.stage is Stage.TAKEN:
        assert lines[0].startswith(given.who[:30])
        assert lines[1] == "You need not go unless asked."
        return
    assert re.search(r"\d (d|h|min)\b", lines[0])
    assert kind not in LIMITED or re.match(rf"Limit (unknown|-?\d+(\.\d+)? {unit})", lines[0])
    assert lines[1] == given.definition.first_action
    assert lines[2].startswith("Time left: ")


@pytest.mark.parametrize(("kind", "stage", "fahrenheit", "names"), CASES)
def test_every_text_keeps_the_rules(kind: AlarmKind, stage: Stage, fahrenheit: bool, names: str) -> None:
    given = facts(kind, stage, fahrenheit, names)
    text = alert_text(given)
    check_form(given, text)
    check_content(given, text)


@pytest.mark.parametrize(("kind", "stage"), list(product(AlarmKind, Stage)))
def test_every_text_keeps_the_rules_whatever_is_not_known(kind: AlarmKind, stage: Stage) -> None:
    for known in product((True, False), repeat=len(OPTIONAL)):
        missing = {name: None for name, is_known in zip(OPTIONAL, known, strict=True) if not is_known}
        for names in NAMES:
            given = facts(kind, stage, fahrenheit=False, names=names, **missing)
            text = alert_text(given)
            check_form(given, text)
            check_content(given, text)


@pytest.mark.parametrize(("kind", "still"), list(product(sorted(OF_A_CHANNEL), sorted(LIMITED))))
def test_a_cleared_text_of_a_place_still_out_of_range_keeps_the_rules_and_ends_with_an_action(
    kind: AlarmKind, still: AlarmKind
) -> None:
    given = facts(kind, Stage.CLEARED, fahrenheit=True, names="long", still_out=still)
    text = alert_text(given)
    check_form(given, text)
    assert text.body.splitlines()[2] == DEFINITIONS[still].first_action


@pytest.mark.parametrize("stage", [Stage.RAISED, Stage.STILL])
@pytest.mark.parametrize("kind", list(AlarmKind))
def test_with_names_of_usual_length_it_says_who_was_told_and_what_lies_inside_after_the_action(
    kind: AlarmKind, stage: Stage
) -> None:
    usual = {"since_ms": NOW - 360_000, "last_reading_ms": NOW - 20_000, "value": 33.4, "limit": 32.0, "worst": 33.9}
    lines = alert_text(facts(kind, stage, fahrenheit=False, names="typical", **usual)).body.splitlines()
    assert lines.index("Told: Ana, Ben.") > 1
    assert lines.index("Inside: Ball python 3, Corn snake 7.") > 1


@pytest.mark.parametrize("kind", list(AlarmKind))
def test_a_first_action_is_one_short_order(kind: AlarmKind) -> None:
    action = DEFINITIONS[kind].first_action
    assert action.startswith(ACTION_VERBS)
    assert action.count(".") == 1
    assert action.endswith(".")
    assert len(action) <= 90


@pytest.mark.parametrize("kind", list(AlarmKind))
def test_work_near_mains_or_water_carries_its_caution(kind: AlarmKind) -> None:
    """Mains and wet hands or water do not go together: common practice, no source."""
    action = DEFINITIONS[kind].first_action
    if "unplug" in action or "has power" in action or "water near" in action:
        assert "dry hands" in action or "unplug the heat before" in action


@pytest.mark.parametrize("kind", list(AlarmKind))
def test_every_kind_has_words_for_what_is_wrong_and_for_its_end(kind: AlarmKind) -> None:
    assert WRONG[kind]
    assert kind in LIMITED or OVER[kind] != WRONG[kind]
    assert len(WRONG[kind]) <= 30
