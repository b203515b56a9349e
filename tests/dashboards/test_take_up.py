"""Taking up a device that is heard: its form, what is wrong beside its fields, and what site.toml states then."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.storage.audit import newest
from tests.dashboards.heard import BOX, BOX_FIELDS, BOX_TOPIC, NORTH, PACK, PROBES, TAKE_UP, probes
from tests.support.probed import NOW_MS, ProbedHouse, probed_house

HUT_TOPIC = "hut/shelf/state"
HUT = b'{"climate": {"temperature": 82.4, "humidity": 81}, "at": "2026-05-28T20:26:40Z"}'
HUT_FIELDS = {
    "topic": HUT_TOPIC,
    "id": "shelf",
    "place": "north",
    "interval_s": "60",
    "leaf:/climate/temperature": "air_temperature|degF",
    "leaf:/climate/humidity": "relative_humidity|percent",
    "leaf:/at": "time|rfc3339",
}
DRY = {"leaf:/climate/humidity": ""}


@pytest.fixture
def house(tmp_path: Path) -> Iterator[ProbedHouse]:
    with probed_house(tmp_path) as made:
        yield made


def test_an_unknown_probe_is_listed_and_taken_up_in_two_taps(house: ProbedHouse) -> None:
    for minute in range(4):
        house.now_ms = NOW_MS + minute * 60_000
        house.arrive(BOX_TOPIC, PACK)
    page = house.look(PROBES).text
    assert "Heard, and not taken up" in page
    assert f'href="{TAKE_UP}?topic=clutchwarden%2Fbox-7%2Fmeasure"' in page
    assert "Heard 4 times in the last 3" in page

    form = house.look(f"{TAKE_UP}?topic={BOX_TOPIC}").text
    assert 'value="60"' in form
    assert 'value="air_temperature" selected' in form
    assert 'value="relative_humidity" selected' in form
    done = house.send(TAKE_UP, BOX_FIELDS)
    assert (done.status_code, done.headers["location"]) == (303, PROBES)
    assert probes(house)[-1] == {
        "id": BOX,
        "place": "north/upper/N1",
        "interval_s": 60,
        "channel": [
            {"name": "t", "quantity": "air_temperature"},
            {"name": "rh", "quantity": "relative_humidity"},
        ],
    }
    assert house.starts == 1
    house.arrive(BOX_TOPIC, PACK)
    page = house.look(PROBES).text
    assert "Heard, and not taken up" not in page
    assert "28.1" in page
    with house.journal.read() as conn:
        [event] = newest(conn, 5)
    assert (event.change.who, event.change.about) == ("mara", "probe box-7 taken up")


def test_a_device_with_messages_of_its_own_is_taken_up_where_its_values_are(house: ProbedHouse) -> None:
    house.arrive(HUT_TOPIC, HUT)
    form = house.look(f"{TAKE_UP}?topic={HUT_TOPIC}").text
    assert 'name="id" value="shelf"' in form
    assert "/climate/temperature" in form
    assert house.send(TAKE_UP, HUT_FIELDS).status_code == 303
    source = {"topic": HUT_TOPIC, "time_pointer": "/at", "time_format": "rfc3339"}
    assert probes(house)[-1]["source"] == [
        {**source, "channel": "t", "pointer": "/climate/temperature", "unit": "degF"},
        {**source, "channel": "rh", "pointer": "/climate/humidity", "unit": "percent"},
    ]
    house.arrive(HUT_TOPIC, HUT.replace(b"2026-05-28T20:26:40Z", b"2026-05-28T20:26:39Z"))
    # (82.4 - 32) / 1.8 = 28.0
    [shelf] = [each for each in house.look("/api/probes").json()["probes"] if each["probe"] == "shelf"]
    assert [each["value"] for each in shelf["channels"]] == [28.0, 81.0]


def test_a_plain_number_is_taken_up_without_a_pointer(house: ProbedHouse) -> None:
    house.arrive("hut/t", b"23.4")
    fields = {"topic": "hut/t", "id": "hut", "place": "room", "interval_s": "60", "plain": "air_temperature|Cel"}
    assert house.send(TAKE_UP, fields).status_code == 303
    assert probes(house)[-1]["source"] == [{"topic": "hut/t", "channel": "t", "unit": "Cel"}]


@pytest.mark.parametrize(
    ("change", "beside", "told"),
    [
        ({"place": ""}, "take-up-place-error", "Choose where it is"),
        ({"place": "nowhere"}, "take-up-place-error", "not in the list any more"),
        ({"interval_s": "0.0001"}, "take-up-interval_s-error", "1 at the least"),
        ({"interval_s": "often"}, "take-up-interval_s-error", "not a number"),
        ({"id": "north-air"}, "take-up-id-error", "stands here 2 times"),
        ({"id": "<b>my probe</b>"}, "take-up-id-error", "cannot be used as a name"),
        ({"id": ""}, "take-up-id-error", "Give it an id"),
        ({"leaf:/climate/humidity": "air_temperature|Cel"}, 'role="alert"', "both measure air temperature"),
        ({"place": "north/upper"}, "take-up-place-error", "has a probe for this already, north-air"),
        ({"leaf:/climate/humidity": "weight|kg"}, "take-up-leaf:/climate/humidity-error", "choose again"),
        ({"leaf:/climate/humidity": "", "leaf:/climate/temperature": ""}, 'role="alert"', "at least one value"),
        ({"place": "north/upper", "leaf:/climate/temperature": "door|/", **DRY}, 'role="alert"', "whole incubator"),
    ],
)
def test_what_is_wrong_stands_beside_its_field_and_what_was_typed_stays(
    house: ProbedHouse, change: dict[str, str], beside: str, told: str
) -> None:
    house.arrive(HUT_TOPIC, HUT)
    before = house.stated()
    fields = {**HUT_FIELDS, "interval_s": "77", **change}
    answer = house.send(TAKE_UP, fields)
    assert answer.status_code == 422
    assert told in answer.text
    assert beside in answer.text
    assert "<b>my" not in answer.text
    if "interval_s" not in change:
        assert 'value="77"' in answer.text
    assert (house.stated(), house.starts) == (before, 0)


def test_two_names_of_one_quantity_at_one_place_are_refused(house: ProbedHouse) -> None:
    house.arrive(BOX_TOPIC, b'[{"n":"a","u":"Cel","v":1},{"n":"b","u":"Cel","v":2}]')
    fields = {**BOX_FIELDS, "channel:t": "", "channel:rh": "", "channel:a": "air_temperature"}
    answer = house.send(TAKE_UP, {**fields, "channel:b": "air_temperature"})
    assert answer.status_code == 422
    assert "take-up-channel:b-error" in answer.text
    assert house.send(TAKE_UP, fields).status_code == 303


def test_markup_in_topics_names_and_payloads_is_text(house: ProbedHouse) -> None:
    topic = "hut/<script>alert(1)</script>"
    house.arrive(topic, b'{"<img src=x>": "<b>28</b>", "\\u202e": 1}')
    house.arrive("clutchwarden/<i>x</i>/measure", b'[{"n":"t","u":"<u>Cel</u>","v":1}]')
    for page in (house.look(PROBES), house.look(f"{TAKE_UP}?topic={topic}")):
        assert page.status_code == 200
        for bad in ("<script>alert", "<img", "<b>28", "<i>x", "<u>", "\u202e"):
            assert bad not in page.text
    form = {"topic": topic, "id": "hut", "place": "north", "interval_s": "60", "leaf:/%E2%80%AE": "air_temperature|Cel"}
    assert house.send(TAKE_UP, form).status_code == 303
    assert probes(house)[-1]["source"][0]["pointer"] == "/\u202e"


def test_a_file_that_was_changed_by_hand_meanwhile_is_not_overwritten(house: ProbedHouse) -> None:
    house.arrive(BOX_TOPIC, PACK)
    seen = house.desk.mark()
    with (house.folder / "site.toml").open("a", encoding="utf-8") as site:
        site.write("# by hand\n")
    answer = house.send(TAKE_UP, {**BOX_FIELDS, "mark": seen})
    assert answer.status_code == 409
    assert "changed since this page was made" in answer.text
    # The form that is shown now is of the new file, with what was typed.
    assert house.desk.mark() in answer.text
    assert 'value="north/upper/N1" selected' in answer.text
    assert house.send(TAKE_UP, BOX_FIELDS).status_code == 303
    assert "# by hand" in house.stated()


def test_the_id_of_a_probe_that_speaks_senml_is_that_of_its_topic(house: ProbedHouse) -> None:
    house.arrive(BOX_TOPIC, PACK)
    assert 'name="id"' not in house.look(f"{TAKE_UP}?topic={BOX_TOPIC}").text
    assert house.send(TAKE_UP, {**BOX_FIELDS, "id": "another"}).status_code == 303
    assert probes(house)[-1]["id"] == BOX


def test_more_names_of_a_known_probe_are_added_to_it(house: ProbedHouse) -> None:
    topic = "clutchwarden/north-air/measure"
    house.arrive(topic, b'[{"n":"air","u":"Cel","v":28},{"n":"lid","u":"Cel","v":27}]')
    page = house.look(NORTH).text
    assert "It also sends <b>lid</b>" in page
    assert house.send(TAKE_UP, {"topic": topic, "channel:lid": "surface_temperature"}).status_code == 303
    assert [each["name"] for each in probes(house)[0]["channel"]] == ["air", "rh", "lid"]
    assert "It also sends" not in house.look(NORTH).text


@pytest.mark.parametrize("payload", [b"", b"\xff\xfe", b"<xml/>" * 30, b"[]", b'[{"n":"t","v":"x"}]', b"{}"])
def test_a_device_that_sends_no_value_is_shown_and_cannot_be_taken_up(house: ProbedHouse, payload: bytes) -> None:
    house.arrive(BOX_TOPIC, payload)
    page = house.look(f"{TAKE_UP}?topic={BOX_TOPIC}")
    assert page.status_code == 200
    assert "nothing to take up" in page.text
    assert "<form method" not in page.text.partition("<main")[2].partition("</main>")[0]
