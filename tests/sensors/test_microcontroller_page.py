"""The table of messages in `deploy/microcontroller.md` is the test: the real decoder gives what each row says."""

import re
from pathlib import Path

import pytest

from config.words import Quantity
from sensors.decoder import Decoder
from sensors.reading import Accepted, Outcome, Rejection
from tests.sensors.example_site import one_probe

PAGE = (Path(__file__).parents[2] / "deploy" / "microcontroller.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| `([^`]+)`( retained)? \| (.+) \|$", PAGE, re.MULTILINE)
ARRIVED_MS = 1_780_000_000_000
READING = re.compile(r"(\w+) (-?[\d.]+), (?:at arrival|(\d+) s before)(, suspect)?")
SITE = one_probe("NAME", t=Quantity.AIR_TEMPERATURE, rh=Quantity.RELATIVE_HUMIDITY, door=Quantity.DOOR)


@pytest.mark.parametrize(("message", "retained", "told"), ROWS)
def test_the_page_says_what_becomes_of_a_message(message: str, retained: str, told: str) -> None:
    found = Decoder(SITE).decode("clutchwarden/NAME/measure", message.encode(), bool(retained), ARRIVED_MS)
    if told.startswith("rejected: "):
        assert isinstance(found, Rejection)
        outcome, reason = told.removeprefix("rejected: ").split(": ", 1)
        assert found.outcome == f"rejected: {outcome}"
        assert reason in found.reason
        return
    assert isinstance(found, Accepted)
    stated = [READING.fullmatch(part) for part in told.split("; ")]
    assert [
        (f"NAME/{each[1]}", float(each[2]), ARRIVED_MS - int(each[3] or 0) * 1000, bool(each[4]))
        for each in stated
        if each is not None
    ] == [(one.channel, round(one.value, 6), one.measured_at_ms, one.quality != 0) for one in found.readings]
    assert None not in stated


def test_the_table_has_every_way_in_which_a_message_of_a_probe_is_refused() -> None:
    assert len(ROWS) >= 25
    elsewhere = {Outcome.OVERSIZED, Outcome.UNKNOWN_PROBE, Outcome.UNTIMED, Outcome.CONFLICT}
    refused = {outcome for outcome in Outcome if outcome.startswith("rejected: ")} - elsewhere
    assert {outcome for outcome in refused if not any(told.startswith(f"{outcome}: ") for _, _, told in ROWS)} == set()
