"""Contacts on the page, for programs and for the outside check: in words, and never in place of a thermometer."""

from dataclasses import replace

import pytest

from config.words import Quantity
from daemon.overview import ChannelNow
from dashboards.health import health
from dashboards.standing import Shape, Tone
from dashboards.view import page_view
from tests.dashboards import samples
from tests.dashboards.asking import ask, pages


def contact(quantity: Quantity, value: float | None, age_ms: int = 20_000) -> ChannelNow:
    return replace(
        samples.temperature(value, age_ms),
        channel=f"north-contact/{quantity}",
        probe="north-contact",
        quantity=quantity,
        place="north",
        low=None,
        high=None,
        lethal_low=None,
        lethal_high=None,
        standard_uncertainty=None,
        calibrated_ms=None,
        calibration_due_ms=None,
    )


@pytest.mark.parametrize(
    ("quantity", "value", "name", "words", "mark", "tone"),
    [
        (Quantity.MAINS, 1.0, "Mains contact", "mains present", "as it should be", Tone.WELL),
        (Quantity.MAINS, 0.0, "Mains contact", "mains absent", "no mains", Tone.CRITICAL),
        (Quantity.DOOR, 0.0, "Door contact", "door closed", "as it should be", Tone.WELL),
        (Quantity.DOOR, 1.0, "Door contact", "door open", "door open", Tone.LOW),
    ],
)
@pytest.mark.parametrize("fahrenheit", [False, True])
def test_a_contact_is_told_in_words(
    quantity: Quantity, value: float, name: str, words: str, mark: str, tone: Tone, fahrenheit: bool
) -> None:
    overview = replace(samples.with_channels(contact(quantity, value)), fahrenheit=fahrenheit)
    (reading,) = page_view(overview).incubators[0].places[0].readings
    assert (reading.name, str(reading.value), reading.mark.word, reading.mark.tone) == (name, words, mark, tone)
    assert (reading.sure, reading.calibrated, reading.due, reading.band) == ("", "", "", None)
    page = ask(pages(overview), "/").text
    assert words in page
    assert "mains contact" in page.lower() or "door contact" in page.lower()


@pytest.mark.parametrize("quantity", [Quantity.MAINS, Quantity.DOOR])
def test_an_old_or_missing_word_of_a_contact_is_never_well(quantity: Quantity) -> None:
    for channel in (contact(quantity, 1.0, age_ms=samples.OLD_AFTER_MS + 1), contact(quantity, None)):
        (reading,) = page_view(samples.with_channels(channel)).incubators[0].places[0].readings
        assert (reading.mark.shape, reading.mark.tone) == (Shape.GAP, Tone.UNKNOWN)


@pytest.mark.parametrize(
    ("quantity", "value", "state"),
    [
        (Quantity.MAINS, 1.0, "present"),
        (Quantity.MAINS, 0.0, "absent"),
        (Quantity.DOOR, 1.0, "open"),
        (Quantity.DOOR, 0.0, "closed"),
        (Quantity.DOOR, None, None),
    ],
)
def test_for_programs_a_contact_has_a_state_and_no_temperature(
    quantity: Quantity, value: float | None, state: str | None
) -> None:
    overview = samples.with_channels(samples.temperature(), contact(quantity, value))
    answer = ask(pages(overview), "/api/overview").json()
    _, told = answer["incubators"][0]["channels"]
    assert told["quantity"] == quantity.value
    assert told["state"] == state
    assert not {key for key in told if key.endswith(("_c", "_pct", "_k"))}


def test_a_contact_that_speaks_on_its_battery_does_not_make_a_blind_service_healthy() -> None:
    old = samples.temperature(age_ms=samples.OLD_AFTER_MS + 1)
    found = health(samples.with_channels(old, contact(Quantity.MAINS, 1.0)))
    assert not found.healthy
    assert "No channel has a fresh reading: the newest, of north-air/t" in found.reasons[0]
    assert health(samples.with_channels(samples.temperature(), contact(Quantity.MAINS, 1.0))).healthy
    assert health(samples.with_channels(contact(Quantity.MAINS, 1.0))).reasons == ["No reading has arrived yet."]


def test_a_contact_in_the_room_stands_in_its_strip() -> None:
    here = replace(samples.room(), channels=(replace(contact(Quantity.MAINS, 1.0), place="room"),))
    overview = replace(samples.overview(), room=here)
    view = page_view(overview).room
    assert view is not None
    assert [str(reading.value) for reading in view.readings] == ["mains present"]
    assert ask(pages(overview), "/api/overview").json()["room"]["channels"][0]["state"] == "present"
