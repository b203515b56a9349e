"""The journal of alarms and their measures as pages, on a real journal."""

import re
from html import unescape

from daemon.alarm_measures import metrics_of
from daemon.alarms.classes import DAY_MS
from daemon.alarms.state_values import Shown
from daemon.commands.alarms_text import metrics_lines
from daemon.storage import alarm_records
from daemon.storage.alarm_records import AlarmRecord
from dashboards.alarm_board import GROUPS
from tests.dashboards.asking import ask
from tests.support.called import AIR, HIGH, LETHAL, CalledHouse

OTHER = "humidity-low:north-air/rh"
OTHER_NAME = "North cabinet, upper shelf: too dry (probe north-air)"
STEPS = 120


def step(number: int, key: str, at_ms: int) -> AlarmRecord:
    unseen = Shown.UNACKNOWLEDGED.value
    reason, called = f"step {number}", number % 2 == 0
    return AlarmRecord(
        at_ms, at_ms, key, f"{AIR}#{number}", 2, "on", "normal", unseen, unseen, "", reason, called, accepted=True
    )


def many(house: CalledHouse) -> None:
    rows = [step(each, OTHER if each % 3 else HIGH, house.now_ms + each) for each in range(STEPS)]
    house.journal.write(lambda conn: alarm_records.append(conn, rows))


def numbers(html: str) -> list[int]:
    return [int(each) for each in re.findall(r"<p>Step (\d+)\.", html)]


def walked(house: CalledHouse, path: str) -> tuple[list[int], int]:
    """Follow the link to older steps to the end; the steps in order, and how many pages there were."""
    found: list[int] = []
    pages = 0
    while path:
        html = ask(house.app, path).text
        found, pages = [*found, *numbers(html)], pages + 1
        older = re.search(r'id="to-older" href="([^"]+)"', html)
        path = unescape(older[1]) if older else ""
    return found, pages


def test_the_journal_is_paged_back_to_its_beginning_with_nothing_twice_and_nothing_left_out(house: CalledHouse) -> None:
    many(house)
    assert walked(house, "/alarms/journal") == (list(range(STEPS))[::-1], 3)


def test_the_journal_of_one_alarm_has_that_alarm_alone_on_all_of_its_pages(house: CalledHouse) -> None:
    many(house)
    html = ask(house.app, f"/alarms/journal?alarm={OTHER}").text
    assert f"Only <b>{OTHER_NAME}</b>." in html
    assert set(re.findall(r'<a class="of" href="[^"]*">([^<]*)<', html)) == {OTHER_NAME}
    assert set(re.findall(r'<a class="of" href="([^"]*)">', html)) == {f"/alarms/of/{OTHER}"}
    assert walked(house, f"/alarms/journal?alarm={OTHER}") == ([each for each in range(STEPS) if each % 3][::-1], 2)
    assert "No step of this alarm is in the journal here." in ask(house.app, "/alarms/journal?alarm=none").text


def test_steps_that_come_meanwhile_do_not_move_an_older_page(house: CalledHouse) -> None:
    many(house)
    first = ask(house.app, "/alarms/journal").text
    older = unescape(re.findall(r'id="to-older" href="([^"]+)"', first)[0])
    before = numbers(ask(house.app, older).text)
    house.journal.write(lambda conn: alarm_records.append(conn, [step(999, HIGH, house.now_ms)]))
    assert numbers(ask(house.app, older).text) == before
    assert numbers(ask(house.app, "/alarms/journal").text)[0] == 999


def test_a_refused_wish_is_told_as_such(house: CalledHouse) -> None:
    refused = step(1, HIGH, house.now_ms)._replace(event="shelve", accepted=False, who="ana", reason="too long")
    house.journal.write(lambda conn: alarm_records.append(conn, [refused]))
    html = ask(house.app, "/alarms/journal").text
    assert "Refused: nothing was done." in html
    assert "by Ana" in html


def test_an_alarm_that_a_reason_names_has_its_name_there_too(house: CalledHouse) -> None:
    house.minutes(15, 31.0)
    house.minutes(20, 41.0)
    text = re.sub(r"<[^>]+>", "", ask(house.app, "/alarms/journal").text)
    assert "a more severe alarm of the same place is on (North cabinet, upper shelf: dangerously hot (probe" in text
    assert LETHAL not in text


def test_the_measures_are_those_of_the_command_and_say_where_there_is_too_little(drifted: CalledHouse) -> None:
    html = ask(drifted.app, "/alarms/metrics?days=7").text
    # 30 days: ISA-18.2-2016 section 16.4 as daemon/alarms/metrics states it.
    assert "Too little data: 7 days of 30." in html
    rows = re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", html)
    with drifted.journal.read() as conn:
        records = alarm_records.between(conn, 0, drifted.now_ms)
    zone = drifted.zone
    lines = metrics_lines(metrics_of(records, drifted.now_ms - 7 * DAY_MS, drifted.now_ms, zone))
    # The command is used with the ids of alarms, a page is read.
    name = "North cabinet, upper shelf: too warm (probe north-air)"
    told = [each.strip().replace(HIGH, name) for each in lines]
    assert [f"{unescape(label)}: {unescape(text)}".rstrip() for label, text in rows] == told
    assert ("Most frequent", f"1 \N{MULTIPLICATION SIGN} {name}") in [(label, unescape(text)) for label, text in rows]
    assert HIGH not in re.sub(r"<[^>]+>", "", html)
    assert "Too little data" not in ask(drifted.app, "/alarms/metrics?days=30").text


def test_measures_follow_the_journal(house: CalledHouse) -> None:
    assert "<dd>0 (0.00 a day)" in ask(house.app, "/alarms/metrics").text
    house.minutes(15, 31.0)
    assert "<dd>1 (0.03 a day)" in ask(house.app, "/alarms/metrics").text


def test_every_state_but_normal_has_its_place_on_the_page() -> None:
    shown = [state for group in GROUPS for state in group.states]
    assert sorted(shown) == sorted(set(Shown) - {Shown.NORMAL})
