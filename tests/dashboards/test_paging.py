"""Every list for programs that grows with the years: by pages, all in one way, none of them with a hole or twice."""

import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.clutches import register
from daemon.clutches.corrections import withdraw_clutch
from daemon.storage import audit, backups, rounds
from daemon.storage.alarm_log import AlarmEvent, append_event
from daemon.storage.audit import Change
from daemon.storage.backups import BackupRun
from dashboards import cursor
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch
from tests.support.whole import WholeHouse, whole_house

CHANNEL = "north-air/air"
READINGS = f"/api/readings?channel={CHANNEL}&from=2026-05-27"
LISTS: Mapping[str, str] = {
    "/api/alarms/journal": "steps",
    "/api/alarms/events": "events",
    "/api/incidents": "incidents",
    "/api/rounds": "rounds",
    "/api/clutches/closed": "clutches",
    "/api/backups/runs": "runs",
    "/api/set-up/audit": "changes",
    "/api/set-up/audit?about=thing-1": "changes",
    READINGS: "readings",
}
CLOSED_DAYS_AGO = (3, 1, 1, 2, 4)
"""Two of them at one moment; the last one was entered by mistake."""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WholeHouse]:
    with whole_house(tmp_path_factory.mktemp("whole")) as made:
        made.house.journal.write(lambda conn: fill(conn, made.house.now_ms))
        yield made


def fill(conn: sqlite3.Connection, now_ms: int) -> None:
    for number, days in enumerate(CLOSED_DAYS_AGO):
        new = replace(
            a_clutch(now_ms - 30 * DAY_MS, f"Past {number}", "north/upper"), sire="Uranos", tags=("het", "<b>")
        )
        made = register.add_clutch(conn, new, "test", now_ms)
        register.close_clutch(conn, made, now_ms - days * DAY_MS, "ana", "over", now_ms)
    withdraw_clutch(conn, made, "ana", "never was", now_ms)
    for number in range(3):
        backups.add_run(conn, BackupRun(number, number + 1, "/mnt/eggs", f"b-{number}", True, 100, ""))
        rounds.end(conn, "north", "ben", f"note {number}", now_ms)
        rounds.start(conn, "north", "ana", now_ms, 20 * MINUTE_MS)
        change(conn, number, now_ms)


def change(conn: sqlite3.Connection, number: int, now_ms: int) -> None:
    for about in ("thing-1", "thing-2"):
        audit.record(conn, Change("ana", "192.0.2.7", "site", about, {}, {"n": number}, "because"), now_ms)


def limited(path: str, limit: int) -> str:
    return f"{path}{'&' if '?' in path else '?'}limit={limit}"


def rows(page: Mapping[str, Any], name: str) -> list[Any]:
    """The rows of a page; readings stand there as columns."""
    found = page[name]
    return list(zip(*found.values(), strict=True)) if isinstance(found, dict) else list(found)


def walked(house: WholeHouse, path: str, limit: int, name: str) -> list[Any]:
    """All rows of a list, page by page, by the addresses that it gives."""
    found: list[Any] = []
    at: str | None = limited(path, limit)
    while at is not None:
        answer = house.look(at)
        assert answer.status_code == 200, answer.text
        page = answer.json()
        assert len(rows(page, name)) <= limit
        found += rows(page, name)
        at = page["next"]
        # RFC 8288: the same address, as a header.
        assert answer.headers.get("Link") == (None if at is None else f'<{at}>; rel="next"')
        assert at is None or rows(page, name)
    return found


@pytest.mark.parametrize(("path", "name"), LISTS.items())
def test_pages_of_any_size_give_the_same_rows_as_one_page(house: WholeHouse, path: str, name: str) -> None:
    whole = rows(house.look(limited(path, 200)).json(), name)
    assert whole
    assert walked(house, path, 1 if len(whole) < 10 else 7, name) == whole
    assert walked(house, path, len(whole), name) == whole


@pytest.mark.parametrize("path", LISTS)
def test_where_a_list_goes_on_is_said_by_the_list_alone(house: WholeHouse, path: str) -> None:
    """A place of another list, of the same with other wishes, or a made-up one is refused in words."""
    plain = path.partition("?")[0]
    begun = [house.look(limited(each, 1)).json()["next"] for each in LISTS if each != plain]
    places = [httpx.URL(each).params["after"] for each in begun if each is not None]
    for place in (*places, "x", "AAAA", "é", "=", "%00", "A" * 121):
        answer = house.look(f"{plain}?after={place}")
        assert answer.status_code == 422, place
        [mistake] = answer.json()["detail"]
        assert mistake["loc"] == ["query", "after"]
        assert len(place) > cursor.LONGEST or "begin without `after`" in mistake["msg"]
    for limit in ("0", "-1", "x", "10001"):
        assert house.look(f"{plain}?limit={limit}").status_code == 422


@pytest.mark.parametrize("path", LISTS)
def test_who_has_a_page_already_is_told_that_it_is_as_it_was(
    house: WholeHouse, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Its newest reading is of this very moment, and is given from the next one on.
    monkeypatch.setattr(house.house, "now_ms", house.house.now_ms + 5000)
    first = house.look(path)
    monkeypatch.setattr(house.house, "now_ms", house.house.now_ms + 5000)
    # RFC 9110, 13.1.2: compared weakly, and several may be named.
    asked = {**house.keeper, "If-None-Match": f'"other", {first.headers["ETag"]}'}
    again = house.ask(path, asked)
    assert (again.status_code, again.content) == (304, b"")
    assert house.ask(path, {**house.keeper, "If-None-Match": '"other"'}).status_code == 200


def test_what_comes_meanwhile_moves_nothing(house: WholeHouse) -> None:
    """Half of each list is read, then rows are added at its beginning; the rest is what it was."""
    journal, now_ms = house.house.journal, house.house.now_ms
    lists = {path: name for path, name in LISTS.items() if name in {"rounds", "events", "changes", "clutches"}}
    before = {path: walked(house, path, 200, name) for path, name in lists.items()}
    begun = {path: house.look(limited(path, 1)).json() for path in lists}

    def more(conn: sqlite3.Connection) -> None:
        rounds.end(conn, "north", "ben", "", now_ms)
        rounds.start(conn, "north", "ana", now_ms, 20 * MINUTE_MS)
        change(conn, 99, now_ms)
        append_event(conn, AlarmEvent(now_ms, now_ms, "no-data:x", "o-1", "raised", None, None, "silent"))
        made = register.add_clutch(conn, a_clutch(now_ms - 9 * DAY_MS, "Newest", "north/upper"), "test", now_ms)
        register.close_clutch(conn, made, now_ms, "ana", "over", now_ms)

    journal.write(more)
    for path, name in lists.items():
        rest = house.look(begun[path]["next"]).json()
        given = [*rows(begun[path], name), *rows(rest, name)]
        assert given == before[path][: len(given)]
        assert len(given) > 1
        assert len(walked(house, path, 200, name)) > len(before[path])


def test_closed_clutches_come_the_last_first_with_parents_and_tags(house: WholeHouse) -> None:
    found = [each for each in walked(house, "/api/clutches/closed", 2, "clutches") if each["sire"]]
    now_ms = house.house.now_ms
    assert [each["clutch"]["label"] for each in found] == ["Past 2", "Past 1", "Past 3", "Past 0"]
    assert [each["closed_at_ms"] for each in found] == [now_ms - days * DAY_MS for days in (1, 1, 2, 3)]
    assert {(each["dam"], each["sire"], tuple(each["tags"]), each["venomous"]) for each in found} == {
        ("", "Uranos", ("het", "<b>"), False)
    }
    # One that is closed is not among those that lie somewhere, and the other way round.
    open_ones = {each["clutch"]["label"] for each in house.look("/api/clutches").json()["clutches"]}
    assert open_ones == {"Juniper"}


def test_readings_are_given_as_they_were_stored_over_any_period(house: WholeHouse) -> None:
    with house.house.journal.read() as conn:
        stored = conn.execute(
            "SELECT measured_at_ms, value, quality FROM sample JOIN channel USING (channel_id) WHERE channel = ?"
            " ORDER BY measured_at_ms",
            (CHANNEL,),
        ).fetchall()
    assert [tuple(row) for row in walked(house, f"{READINGS}&until=2026-05-30", 7, "readings")] == stored
    third_ms, last_ms = stored[2][0], stored[-1][0]
    some = house.look(f"/api/readings?channel={CHANNEL}&from={third_ms}&until={last_ms}&limit=10000").json()
    assert [tuple(row) for row in rows(some, "readings")] == stored[2:-1]
    assert (some["quantity"], some["unit"], some["next"]) == ("air_temperature", "Cel", None)
    # A probe that was never calibrated is taken at its word from ever on: 1 January 1970.
    assert some["corrections"] == [{"from_ms": 0, "gain": 1.0, "shift": 0.0}]
    assert some["quality_words"]["0"] == "good"


def test_behind_the_last_place_that_there_can_be_is_nothing(house: WholeHouse) -> None:
    wishes = ["/api/readings", "channel", CHANNEL, "from", "2026-05-27", "until", ""]
    answer = house.look(f"{READINGS}&after={cursor.written(wishes, [2**63 - 1])}")
    assert answer.status_code == 200
    assert (rows(answer.json(), "readings"), answer.json()["next"]) == ([], None)


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ("channel=nowhere/air", "channel"),
        ("", "channel"),
        (f"channel={CHANNEL}&from=yesterday", "from"),
        (f"channel={CHANNEL}&until=1999-01-01", "until"),
        (f"channel={CHANNEL}&from=2026-06-02&until=2026-06-01", "until"),
    ],
)
def test_a_wish_for_readings_that_cannot_be_met_says_what_is_wrong(house: WholeHouse, asked: str, field: str) -> None:
    answer = house.look(f"/api/readings?{asked}")
    assert answer.status_code == 422
    [mistake] = answer.json()["detail"]
    assert mistake["loc"] == ["query", field]
    assert mistake["msg"]


@given(
    st.lists(st.integers(-(2**63) + 1, 2**63 - 1), min_size=1, max_size=2), st.lists(st.text(max_size=9), max_size=4)
)
def test_a_place_is_read_as_it_was_written(key: list[int], of: list[str]) -> None:
    text = cursor.written(of, key)
    assert len(text) <= cursor.LONGEST
    assert cursor.read(of, text, len(key)) == tuple(key)
    for other in ([*of, ""], [*of, "x"], of[1:]):
        if other != of:
            with pytest.raises(cursor.CursorError):
                cursor.read(other, text, len(key))
    with pytest.raises(cursor.CursorError):
        cursor.read(of, text, len(key) + 1)


@given(st.text(max_size=200))
def test_nothing_made_up_is_taken_for_a_place(text: str) -> None:
    with pytest.raises(cursor.CursorError):
        cursor.read(["/api/rounds"], text, 1)
