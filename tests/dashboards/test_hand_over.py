"""The sheet of a hand-over: what stands on it, what had no room, and the keeper's own words."""

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import AlarmKind
from daemon.access.values import Role
from daemon.alarms.classes import HOUR_MS
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.events import Acknowledge, Shelve
from daemon.clutches import register
from daemon.development.window import HatchWindow
from daemon.hand_over_sheet import LONGEST_NOTE, Due, Hatching, boxes_of
from daemon.storage import audit
from daemon.storage.duties import NewEntry
from dashboards.hand_over import hand_over_view
from dashboards.hand_over_lines import Line
from dashboards.hand_over_room import AT_LEAST, chosen, rows_of
from tests.dashboards.asking import ask
from tests.support.called import HIGH, CalledHouse
from tests.support.dated import Dated
from tests.support.household import DAY_MS, a_clutch
from tests.support.upkept import words


@pytest.fixture
def dated(drifted: CalledHouse) -> Dated:
    return Dated(drifted)


def part(html: str, key: str) -> str:
    """The words of one part of the sheet."""
    found = re.search(rf'<section class="part" aria-labelledby="{key}">(.*?)</section>', html, re.DOTALL)
    assert found, key
    return words(found[1])


def sheet(dated: Dated, role: Role = Role.VIEWER) -> str:
    answer = ask(dated.app(role), "/hand-over")
    assert answer.status_code == 200
    return answer.text


def test_an_alarm_says_who_has_it(dated: Dated) -> None:
    before = sheet(dated)
    assert "1 alarm waits for somebody" in words(before)
    assert "too warm since" in part(before, "alarms")
    assert "31.0 °C, limit 30.0 °C. Nobody has it; called: Ana" in part(before, "alarms")
    entry = dated.house.board.look().alarms[0]
    dated.house.board.do(HIGH, entry.mark, Acknowledge("ana", entry.occurrence, entry.version))
    after = sheet(dated)
    assert "Ana has it." in part(after, "alarms")
    assert "1 alarm is on, and seen" in words(after)


def test_what_is_shelved_is_told_apart_with_until_when(dated: Dated) -> None:
    house = dated.house
    shelve = Shelve("ana", "a new thermostat", house.now_ms + 2 * HOUR_MS)
    house.journal.write(lambda conn: house.work.do(conn, {HIGH: shelve}, house.now_ms))
    page = sheet(dated)
    assert part(page, "alarms") == "Alarms No alarm waits."
    assert re.search(r"Shelved by Ana until 29 May, 00:46 \(2 h left\)\. a new thermostat", part(page, "untold"))


def test_thermometers_people_duty_and_what_is_due(dated: Dated) -> None:
    house = dated.house
    dated.people.plan([NewEntry("ben", house.now_ms, house.now_ms + DAY_MS, house.now_ms, "ana", is_absence=True)])
    page = sheet(dated)
    assert "31.0 °C, keep 24.0 °C to 30.0 °C, lethal 34.0 °C." in part(page, "warmth")
    assert "Ana : By webhook." in part(page, "people")
    assert "Away until" in part(page, "people")
    assert "Ana first" in part(page, "duty")
    assert "Round: North cabinet" in part(page, "due")
    # No address of anybody, only the kinds.
    assert "127.0.0.1:9" not in page


def test_first_actions_are_those_of_the_alarms(dated: Dated) -> None:
    page = part(sheet(dated), "first")
    for kind in (
        AlarmKind.TEMPERATURE_LETHAL_HIGH,
        AlarmKind.TEMPERATURE_HIGH,
        AlarmKind.TEMPERATURE_LETHAL_LOW,
        AlarmKind.TEMPERATURE_LOW,
        AlarmKind.MAINS_LOST,
    ):
        assert DEFINITIONS[kind].first_action in page


def test_venomous_boxes_stand_before_everything(dated: Dated) -> None:
    house = dated.house
    new = replace(a_clutch(house.now_ms - DAY_MS, "<b>Cobra</b>", "north/upper"), venomous=True)
    house.journal.write(lambda conn: register.add_clutch(conn, new, "ana", house.now_ms))
    page = sheet(dated)
    caution = page.index("Venomous: trained handlers only. Do not open:")
    assert caution < page.index('class="part"')
    assert "&lt;b&gt;Cobra&lt;/b&gt;" in page


def test_what_has_no_room_is_counted(dated: Dated) -> None:
    found = dated.sheet.look()
    moment, now_ms = HatchWindow, found.overview.now_ms
    window = moment(now_ms, now_ms + DAY_MS, now_ms + 2 * DAY_MS, 1.0, 0.9, (), "fit", "Why.", "open")
    hatching = tuple(Hatching("North, box", f"Clutch {n}", "Snake", False, window, int(n == 59)) for n in range(60))
    due = tuple(Due(f"Calibration: probe-{n}/air", now_ms - DAY_MS) for n in range(40))
    view = hand_over_view(replace(found, hatching=hatching, due=due))
    parts = {each.key: each for each in view.sections}
    left = 60 - len(parts["hatching"].lines)
    assert 20 < left < 58
    assert parts["hatching"].more == f"And {left} more, not on this sheet."
    assert "In 9 of 10 cases" in parts["hatching"].lines[0].text
    assert parts["due"].lines[0].text.endswith(", overdue.")
    assert parts["due"].more == f"And {41 - 1 - len(parts['due'].lines)} more, not on this sheet."
    assert parts["alarms"].more == ""


def test_no_box_that_needs_nothing_is_named(dated: Dated) -> None:
    assert boxes_of([]) == ()
    assert dated.sheet.look().boxes == ()


@pytest.fixture
def note(dated: Dated) -> Callable[..., tuple[int, str]]:
    def send(text: str, seen: str = "0") -> tuple[int, str]:
        answer = dated.send("/set-up/hand-over", text=text, seen=seen)
        return answer.status_code, answer.text

    return send


def test_the_keepers_own_words_stand_on_the_sheet_and_on_record(
    dated: Dated, note: Callable[..., tuple[int, str]]
) -> None:
    text = "Keys: behind the <b>clock</b>\r\nVet: 555 0100"
    assert note(text)[0] == 303
    assert "Keys: behind the &lt;b&gt;clock&lt;/b&gt;\nVet: 555 0100" in sheet(dated)
    with dated.journal.read() as conn:
        (event,) = audit.newest(conn, 9)
    assert (event.change.who, event.change.what) == ("ana", "hand-over sheet")
    assert event.change.new["text"] == "Keys: behind the <b>clock</b>\nVet: 555 0100"
    # The same again changes nothing; empty takes it off the sheet.
    assert note(text, "1")[0] == 303
    assert note("", "1")[0] == 303
    assert "Nothing is stated" in part(sheet(dated), "note")


def test_two_keepers_at_once_overwrite_nothing(dated: Dated, note: Callable[..., tuple[int, str]]) -> None:
    assert note("first")[0] == 303
    status, page = note("second", "0")
    assert status == 409
    assert "Somebody else changed this" in page
    assert "second</textarea>" in page
    assert '<p class="own-words" id="kept">first</p>' in page
    assert 'name="seen" value="1"' in page


@pytest.mark.parametrize(
    ("text", "why"),
    [("x" * (LONGEST_NOTE + 1), f"This has {LONGEST_NOTE + 1} characters"), ("a\n" * 12 + "b", "This has 13 lines")],
)
def test_words_without_room_are_refused_beside_the_field(
    dated: Dated, note: Callable[..., tuple[int, str]], text: str, why: str
) -> None:
    status, page = note(text)
    assert status == 422
    assert re.search(rf'id="text-error">.*?{why}', page, re.DOTALL)
    assert f"{text}</textarea>" in page
    assert dated.sheet.note() is None


def test_who_may_not_write_is_shown_the_words_alone(dated: Dated, note: Callable[..., tuple[int, str]]) -> None:
    note("Keys: hook")
    page = ask(dated.app(Role.RESPONDER), "/set-up/hand-over").text
    assert "Keys: hook" in page
    assert "<form" not in page


def test_the_first_page_leads_to_it(dated: Dated) -> None:
    assert 'href="/hand-over"' in ask(dated.app(), "/").text


def test_fahrenheit(dated: Dated) -> None:
    found = dated.sheet.look()
    overview = replace(found.overview, fahrenheit=True)
    view = hand_over_view(replace(found, overview=overview, alarms=replace(found.alarms, fahrenheit=True)))
    text = words(str(view)).replace("\\xa0", " ")
    # 31 and 30 °C by NIST SP 811, B.8.
    assert "87.8 °F, limit 86.0 °F" in text
    assert "°C" not in text


@given(st.lists(st.lists(st.integers(1, 200), max_size=12), max_size=9), st.integers(0, 120))
def test_lines_are_chosen_until_the_room_is_full(lengths: list[list[int]], room: int) -> None:
    parts = [[Line("n", "x" * length) for length in part] for part in lengths]
    shown = chosen(parts, room)
    taken = sum(rows_of(line) for part, count in zip(parts, shown, strict=True) for line in part[:count])
    least = sum(rows_of(line) for part in parts for line in part[:AT_LEAST])
    assert taken <= max(room, least)
    for part, count in zip(parts, shown, strict=True):
        # A few of each in any case, and of no part a line is left out that would have had room.
        assert count >= min(AT_LEAST, len(part))
        assert count == len(part) or rows_of(part[count]) > room - taken
