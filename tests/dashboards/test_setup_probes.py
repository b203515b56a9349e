"""The set-up of probes: what is shown of them, and what a form changes in site.toml."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.words import Quantity
from daemon.access.values import Role
from daemon.site_desk import NOTHING_IN_THE_DEMO
from daemon.storage import samples
from daemon.storage.audit import newest
from sensors.agent.packs import State, state_pack
from sensors.reading import ChannelKey, Quality, Reading
from tests.dashboards.heard import BOX, BOX_FIELDS, BOX_TOPIC, NORTH, PACK, PROBES, TAKE_UP, probes
from tests.support.probed import GUARD, NOW_MS, ProbedHouse, probed_house

BOARD_TOPIC = "clutchwarden/north-air/agent"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[ProbedHouse]:
    with probed_house(tmp_path) as made:
        yield made


def test_one_probe_shows_what_it_sends_and_why_it_was_refused(house: ProbedHouse) -> None:
    topic = "clutchwarden/north-air/measure"
    house.arrive(topic, b'[{"n":"air","u":"Cel","v":28.5}]')
    house.arrive("clutchwarden/north-air/status", b"online")
    house.now_ms += 60_000
    house.arrive(topic, b'[{"n":"air","u":"lx","v":28.5}]')
    page = house.look(NORTH).text
    assert page.count("<code>[{") == 2
    assert "is not a unit of air temperature" in page
    assert "It said that it is online" in page
    assert "28.5" in page
    found = house.look("/api/probes/north-air").json()
    assert [each["refused"] == "" for each in found["messages"]] == [False, True, True]


def test_readings_of_the_last_day_are_counted_by_what_was_thought_of_them(house: ProbedHouse) -> None:
    key = ChannelKey("north-air/air", "north-air", "air", Quantity.AIR_TEMPERATURE)
    ids = house.journal.write(lambda conn: samples.channel_ids(conn, [key]))
    rows = [Reading(key.channel, NOW_MS - number * 60_000, NOW_MS, 28.0, Quality.GOOD) for number in range(7)]
    rows += [Reading(key.channel, NOW_MS - 30_000 - number, NOW_MS, 85.0, Quality.FAULT_VALUE) for number in range(3)]
    rows += [Reading(key.channel, NOW_MS - 2 * 86_400_000, NOW_MS, 28.0, Quality.GOOD)]
    house.journal.write(lambda conn: samples.append(conn, ids, rows))
    page = house.look(NORTH).text
    assert "Last day: 7 good, 3 suspect" in page
    assert "3 values of a broken probe" in page
    assert "Last day: 7 good, 3 suspect" in house.look(PROBES).text


def test_another_place_and_interval_are_stated(house: ProbedHouse) -> None:
    fields = {"wanted": "change", "place": "north", "interval_s": "30", "why": "moved"}
    answer = house.send(NORTH, fields)
    assert (answer.status_code, answer.headers["location"]) == (303, NORTH)
    assert (probes(house)[0]["place"], probes(house)[0]["interval_s"]) == ("north", 30)
    with house.journal.read() as conn:
        assert newest(conn, 1)[0].change.why == "moved"
    refused = house.send(NORTH, {**fields, "place": "nowhere"})
    assert refused.status_code == 422
    assert "change-place-error" in refused.text
    assert house.send(NORTH, {**fields, "wanted": "burn"}).status_code == 400


def test_out_of_use_has_to_be_meant(house: ProbedHouse) -> None:
    house.arrive(BOX_TOPIC, PACK)
    assert house.send(TAKE_UP, BOX_FIELDS).status_code == 303
    path = f"{PROBES}/{BOX}"
    assert "out-of-use-sure-error" in house.send(path, {"wanted": "out-of-use"}).text
    answer = house.send(path, {"wanted": "out-of-use", "sure": "yes"})
    assert (answer.status_code, answer.headers["location"]) == (303, PROBES)
    assert [each["id"] for each in probes(house)] == ["north-air"]
    # It goes on sending, so it is shown again as what it is now.
    house.now_ms += 1_000
    house.arrive(BOX_TOPIC, PACK)
    assert "Heard, and not taken up" in house.look(PROBES).text


def test_in_the_demo_forms_say_that_nothing_is_changed(tmp_path: Path) -> None:
    with probed_house(tmp_path, refusal=NOTHING_IN_THE_DEMO) as house:
        house.arrive(BOX_TOPIC, PACK)
        before = house.stated()
        for path in (PROBES, NORTH, f"{TAKE_UP}?topic={BOX_TOPIC}"):
            assert NOTHING_IN_THE_DEMO in house.look(path).text
        house.send(TAKE_UP, BOX_FIELDS)
        house.send(NORTH, {"wanted": "out-of-use", "sure": "yes"})
        assert (house.stated(), house.starts) == (before, 0)


def test_who_may_not_change_reads_and_sees_no_form(house: ProbedHouse) -> None:
    house.arrive(BOX_TOPIC, PACK)
    viewer = house.pages(Role.VIEWER)
    for path in (PROBES, NORTH, f"{TAKE_UP}?topic={BOX_TOPIC}"):
        page = house.look(path, viewer)
        assert page.status_code == 200
        assert '<form method="post" action="/set-up' not in page.text
    before = house.stated()
    assert house.send(TAKE_UP, BOX_FIELDS, viewer).status_code == 403
    assert house.stated() == before


def test_a_form_of_somebody_else_does_nothing(house: ProbedHouse) -> None:
    house.arrive(BOX_TOPIC, PACK)
    assert house.send(TAKE_UP, {**BOX_FIELDS, "guard": f"{GUARD}x"}).status_code == 403
    assert house.starts == 0


@pytest.mark.parametrize("path", [f"{PROBES}/nobody", f"{TAKE_UP}?topic=nothing/here", TAKE_UP])
def test_what_there_is_not_has_a_way_back(house: ProbedHouse, path: str) -> None:
    page = house.look(path)
    assert page.status_code == 404
    assert f'href="{PROBES}"' in page.text
    assert house.send(path.partition("?")[0], {"topic": "nothing/here"}).status_code == 404
    assert house.look("/api/probes/nobody").status_code == 404


def test_the_set_up_lists_the_pages_that_there_are(house: ProbedHouse) -> None:
    page = house.look("/set-up").text
    assert f'href="{PROBES}"' in page
    assert "/set-up/species" not in page
    assert 'href="/set-up" aria-current="page"' in page


def test_what_a_board_says_of_itself_is_shown_as_text_and_the_same_to_programs(house: ProbedHouse) -> None:
    assert house.look("/api/probes/north-air").json()["probe"]["board"] is None
    assert 'id="board"' not in house.look(NORTH).text
    house.arrive("clutchwarden/north-air/status", b"online")
    told = State(
        1234,
        400,
        0,
        12,
        3,
        "not set yet",
        "read-only <b>",
        {"air": "gone: no <script>alert(1)</script>"},
        "1.2",
        0.86,
        7200,
        1_850_000_000,
    )
    house.arrive(BOARD_TOPIC, state_pack(told, NOW_MS))
    house.now_ms += 3 * 3_600_000
    page = house.look(NORTH).text
    assert "online, and has been so for 3\N{NO-BREAK SPACE}h" in page
    assert "told this 3\N{NO-BREAK SPACE}h ago, version 1.2" in page
    assert "all readings wait on the board" in page
    assert (
        "1\N{NARROW NO-BREAK SPACE}234 readings, the oldest for 2\N{NO-BREAK SPACE}h; 86 % of its room is taken" in page
    )
    assert "since its spool was begun: 400 given up, since there was no more room, 12 measured with a clock" in page
    assert "12 measured with a clock that was never set</dd>" in page
    # 1,850,000,000 s after 1970 began are 00:53:20 UTC of that day, in Madrid two hours more.
    assert "its certificate, as it was at the last connection, is good until 16 Aug 2028 02:53" in page
    assert (
        "the sensor is not found; check its plug and cable (it says: no &lt;script&gt;alert(1)&lt;/script&gt;)" in page
    )
    assert "<script>alert" not in page
    board = house.look("/api/probes/north-air").json()["probe"]["board"]
    assert (board["waiting"], board["given_up"], board["undated"], board["oldest_s"]) == (1234, 400, 12, 7200)
    assert board["certificate_ends_s"] == 1_850_000_000
    assert board["faults"] == {"air": "gone: no <script>alert(1)</script>"}
    assert house.look("/api/probes").json()["unknown"] == [], "it is no device to take up"
    house.arrive(BOARD_TOPIC, b"[" * 20_000)
    assert house.look("/api/probes/north-air").json()["probe"]["board"] == board, "nonsense changes nothing"
