"""What the pages of calibrations refuse, beside the field or above the form, and what is not stored."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from daemon.access.values import Role
from tests.dashboards.calibrating import HOUR_MS, ONE_POINT, PATH, both_steps, offer_of
from tests.support.upkept import AIR, KEEPER, UpkeptHouse, error_beside, hidden, upkept_house, words


@pytest.fixture
def house(tmp_path: Path) -> Iterator[UpkeptHouse]:
    """Monday 4 May 2026, 14:00 in Madrid."""
    with upkept_house(tmp_path) as made:
        yield made


def test_an_empty_reading_is_the_settled_mean_and_an_unsettled_one_is_refused_beside_it(house: UpkeptHouse) -> None:
    house.put(AIR, [30.15, 30.25] * 10)
    page = house.words(PATH)
    assert "settled The probe itself says 30.20 °C: the mean of 16 readings in 15 min. It has settled." in page
    offer = words(offer_of(house.send(PATH, {**ONE_POINT, "reading": ""}).text))
    assert "the probe says 30.20" in offer
    house.now_ms += HOUR_MS
    house.put(AIR, [30.0 + 0.05 * minute for minute in range(20)])
    refused = house.send(PATH, {**ONE_POINT, "reading": "", "note": "typed"})
    assert refused.status_code == 422
    assert "still rises" in error_beside(refused.text, "one-point-reading")
    assert 'value="29.9"' in refused.text
    assert 'value="typed"' in refused.text
    assert house.on_record() == []


@pytest.mark.parametrize(
    ("changed", "field", "told"),
    [
        ({"reference": ""}, "reference", "Say what the good thermometer shows"),
        ({"reference": "warm"}, "reference", "not a number"),
        ({"reference": "nan"}, "reference", "not a number"),
        ({"accuracy": ""}, "accuracy", "Say how good that thermometer is"),
        ({"since": "2026-05-05"}, "since", "in the future"),
        ({"taken": "2026-05-05"}, "taken", "in the future"),
        ({"taken": "yesterday"}, "taken", "is not a date"),
        ({"due": "soon"}, "due", "is not a date"),
        ({"due": "99y"}, "due", "not within ten years"),
        ({"due": "9999w"}, "due", "not within ten years"),
        ({"wanders": "-1"}, "wanders", "-1 cannot be. Give 0 to 5 °C."),
        ({"repeats": "9"}, "repeats", "9 cannot be"),
        ({"note": "x" * 501}, "note", "longer than 500"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field_and_what_was_typed_stays(
    house: UpkeptHouse, changed: dict[str, str], field: str, told: str
) -> None:
    answer = house.send(PATH, {**ONE_POINT, **changed})
    assert answer.status_code == 422
    assert told in error_beside(answer.text, f"one-point-{field}")
    assert 'value="30.2"' in answer.text
    assert offer_of(answer.text) == ""
    assert house.on_record() == []


@pytest.mark.parametrize(
    ("changed", "field", "told"),
    [
        ({"reference": "200"}, "reference", "A reference of 200 °C cannot be. Give -30 to 60 °C."),
        ({"reading": "-200"}, "reading", "A reading of -200 °C cannot be. Give -30 to 60 °C."),
        ({"reference": "20"}, "reading", "so far off it is broken"),
        ({"accuracy": "0"}, "accuracy", "cannot be used"),
        ({"accuracy": "-1"}, "accuracy", "sure within -1 °C cannot be used"),
    ],
)
def test_a_rule_of_calibrating_refuses_beside_the_field_that_it_is_about(
    house: UpkeptHouse, changed: dict[str, str], field: str, told: str
) -> None:
    answer = house.send(PATH, {**ONE_POINT, **changed})
    assert answer.status_code == 422
    assert told in error_beside(answer.text, f"one-point-{field}")
    assert house.on_record() == []


def test_points_too_close_or_exchanged_are_refused(house: UpkeptHouse) -> None:
    near = {"wanted": "two-point", "low_reference": "29", "low_reading": "29.1", "accuracy": "0.1"}
    answer = house.send(PATH, {**near, "high_reference": "30", "high_reading": "30.1"})
    assert "a line through them would swing" in error_beside(answer.text, "two-point-high_reading")
    missing = house.send(PATH, {**near, "high_reference": "36"})
    assert "A line takes all four numbers" in error_beside(missing.text, "two-point-high_reading")


def test_what_has_changed_since_it_was_shown_is_shown_again_and_not_stored(house: UpkeptHouse) -> None:
    shown = hidden(offer_of(house.send(PATH, ONE_POINT).text))
    both_steps(house, PATH, **{**ONE_POINT, "reference": "30.0"})
    # Another calibration is on record by now, so where the reading was read counts.
    late = house.send(PATH, {**shown, "shown": "raw", "wanted": "one-point"})
    assert late.status_code == 409
    assert "Nothing was stored yet" in words(late.text)
    assert len(house.on_record()) == 1
    again = house.send(PATH, {**hidden(offer_of(late.text)), "wanted": "one-point"})
    assert again.status_code == 303
    assert len(house.on_record()) == 2


def test_a_second_press_of_the_same_button_stores_nothing_more(house: UpkeptHouse) -> None:
    shown = {**hidden(offer_of(house.send(PATH, ONE_POINT).text)), "wanted": "one-point"}
    assert house.send(PATH, shown).status_code == 303
    assert house.send(PATH, shown).status_code in (409, 422)
    assert len(house.on_record()) == 1


def test_what_was_shown_an_hour_ago_is_shown_anew(house: UpkeptHouse) -> None:
    house.put(AIR, [30.2] * 20)
    shown = {**hidden(offer_of(house.send(PATH, {**ONE_POINT, "reading": ""}).text)), "wanted": "one-point"}
    house.now_ms += HOUR_MS + 1
    house.put(AIR, [30.4] * 20)
    late = house.send(PATH, shown)
    assert late.status_code == 409
    assert "the probe says 30.40" in words(offer_of(late.text))
    assert house.on_record() == []


def test_a_viewer_and_a_responder_read_and_change_nothing(house: UpkeptHouse) -> None:
    for role in (Role.VIEWER, Role.RESPONDER):
        app = house.pages(replace(KEEPER, role=role))
        html = house.look(PATH, app).text
        assert 'method="post" action="/set-up' not in html
        assert "A keeper calibrates probes here." in words(html)
        assert house.send(PATH, ONE_POINT, app).status_code == 403
    assert house.on_record() == []


@pytest.mark.parametrize("path", ["north-air/none", "none/air", "<b>x", ""])
def test_a_channel_that_there_is_not_leads_back_to_all(house: UpkeptHouse, path: str) -> None:
    answer = house.look(f"/set-up/calibration/{path}")
    assert answer.status_code == 404
    assert 'href="/set-up/calibration"' in answer.text
    assert "<b>x" not in answer.text


def test_an_unknown_button_does_nothing(house: UpkeptHouse) -> None:
    assert house.send(PATH, {**ONE_POINT, "wanted": "delete"}).status_code == 400
    assert house.send("/set-up/calibration/none/air", ONE_POINT).status_code == 404
    assert house.send(PATH, ONE_POINT, guard="another").status_code == 403
    assert house.on_record() == []


def test_looking_and_being_shown_change_nothing(house: UpkeptHouse) -> None:
    before = house.everything()
    house.send(PATH, ONE_POINT)
    for path in ("/set-up/calibration", PATH, "/api/calibrations"):
        assert house.look(path).status_code == 200
    assert house.everything() == before
