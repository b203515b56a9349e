"""What nobody is told of stands on the first page, each reason with its countdown."""

import re
from dataclasses import replace

from config.words import AlarmKind, Priority
from daemon.alarm_board_values import RoundNow
from daemon.overview import Untold
from dashboards.view import page_view
from tests.dashboards import samples
from tests.dashboards.asking import ask
from tests.dashboards.samples import MINUTE_MS, NOW_MS
from tests.support.called import HIGH, CalledHouse

KEY = "humidity-low:north-air/rh"


def untold(state: str, minutes: int, **more: str) -> Untold:
    until_ms = NOW_MS + minutes * MINUTE_MS
    return Untold(KEY, AlarmKind.HUMIDITY_LOW, Priority.LOW, "North cabinet: too dry", state, until_ms, **more)


def lines(*found: Untold, rounds: tuple[RoundNow, ...] = ()) -> list[tuple[str, str]]:
    view = page_view(replace(samples.overview(), untold=found, rounds=rounds))
    return [(each.mark.word, each.text.replace("\N{NO-BREAK SPACE}", " ")) for each in view.untold]


# 12:02 UTC is 14:02 in Berlin in June.
def test_each_reason_says_who_until_when_and_how_long_that_is() -> None:
    assert lines(
        untold("shelved", 58, who="Ben", why="new lid."),
        untold("out of service", 25 * 60, who="Ana", why="probe broken"),
        untold("suppressed by design", 12, mode="round in progress"),
    ) == [
        ("Shelved", "Shelved by Ben until 15:00 (58 min left). new lid."),
        ("Out of service", "Taken out of service by Ana. Review 4 Jun, 15:02 (1 day left). probe broken."),
        ("Suppressed by design", "Round in progress. Told again at 14:14 (12 min left) at the latest."),
    ]


def test_a_review_whose_date_has_passed_is_due() -> None:
    [(_, text)] = lines(untold("out of service", -5, who="Ana", why="probe broken"))
    assert "Review 13:57 (due)." in text


def test_a_round_says_what_it_holds_back_and_whether_it_still_does() -> None:
    until_ms = NOW_MS + 12 * MINUTE_MS
    running = RoundNow("North cabinet", "Ana", until_ms, is_ended=False, is_overdue=False)
    late = running._replace(until_ms=NOW_MS - 3 * MINUTE_MS, is_overdue=True)
    found = [text for _, text in lines(rounds=(running, running._replace(is_ended=True), late))]
    assert found == [
        "By Ana. Cold, damp, dry and the open door are told again at 14:14 (12 min left) at the latest.",
        "Of Ana, over. Cold, damp, dry and the open door are told again at 14:14 (12 min left).",
        "Of Ana, was to end 3 min ago. All is told again; end the round when you have closed the door.",
    ]


def test_a_changed_countdown_is_a_changed_page_and_without_silence_there_is_no_banner() -> None:
    calm = page_view(samples.overview())
    one, other = (replace(samples.overview(), untold=(untold("shelved", each),)) for each in (58, 57))
    assert len({calm.version, page_view(one).version, page_view(other).version}) == 3
    assert calm.untold == ()


def test_an_alarm_that_is_shelved_and_explained_as_well_has_a_line_for_each(house: CalledHouse) -> None:
    house.minutes(15, 31.0)
    fields = {"wanted": "shelve", "why": "settling", "long": "120"}
    html = ask(house.app, f"/alarms/of/{HIGH}").text
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', html))
    headers = {"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "same-origin"}
    assert house.send(f"/alarms/of/{HIGH}", {**hidden, **fields}, headers).status_code == 303
    house.minutes(15, 41.0)
    found = [(each.state, each.mode) for each in house.overview().untold]
    assert found == [("shelved", ""), ("suppressed by design", "a more severe alarm of the same place is on")]
    page = ask(house.app, "/").text
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert page.count("North cabinet, upper shelf: too warm</a>") == 2
