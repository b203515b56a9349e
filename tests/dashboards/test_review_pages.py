"""The pages of incidents on the demo's journal, in which the mains was lost from 02:07 to 06:11.

What a keeper reads, what a keeper writes, and what somebody else gets on paper.
"""

import re
from collections.abc import Iterator
from contextlib import ExitStack
from html import unescape
from urllib.parse import urlencode

import pytest
from fastapi import FastAPI

from daemon.demo import scenario
from daemon.review_incidents import IncidentDesk
from tests.dashboards.asking import ask
from tests.dashboards.reviewed import app_of, pages_of
from tests.support.demo_site import DemoSite, demo_site
from tests.support.upkept import error_beside, words


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DemoSite]:
    with demo_site(tmp_path_factory.mktemp("demo")) as made:
        yield made


@pytest.fixture(scope="module")
def app(site: DemoSite) -> FastAPI:
    return app_of(site)


@pytest.fixture(scope="module")
def number(site: DemoSite) -> int:
    """That of the incident of the night."""
    [found] = IncidentDesk(site.journal, lambda: site.now_ms).open_reviews()
    return found.incident_id


@pytest.fixture(scope="module")
def page(app: FastAPI, number: int) -> str:
    answer = ask(app, f"/incidents/{number}")
    assert answer.status_code == 200
    return answer.text


def part(html: str, key: str) -> str:
    found = re.search(rf'<section class="[^"]*" aria-labelledby="{key}">(.*?)</section>', html, re.DOTALL)
    assert found, key
    return words(found[1])


def test_the_first_paragraph_says_what_where_when_how_long_and_why(page: str) -> None:
    told = part(page, "happened")
    assert "Sun 21 Jun 2026 02:07" in told
    assert "there was no mains" in told
    assert "Cause, as far as the journal shows it: Mains lost." in told
    assert "The contact socket/mains said at 21 Jun 02:07 that the mains is absent" in told


def test_every_clutch_is_told_with_what_it_lost_and_where_to_find_it(page: str) -> None:
    told = part(page, "clutches")
    for clutch in scenario.CLUTCHES:
        assert clutch.label in told
    assert "/clutches/1" in page
    assert told.count("Hatch date:") == len(scenario.CLUTCHES)
    assert "no published figure" in told


def test_every_place_with_a_probe_is_drawn_and_every_limit_has_its_verdict(page: str, site: DemoSite) -> None:
    with_air = {
        probe.place
        for probe in site.site.probes
        for channel in probe.channels
        if channel.name == "air" and probe.place != "room"
    }
    assert page.count('class="drawing review-drawing"') == len(with_air) == 5
    told = part(page, "places")
    assert "Lower limit 30.0 °C not kept" in told
    assert "Lethal limit of heat 35.0 °C kept never" in told
    assert "Nobody measured from Sun 21 Jun 02:22 to 06:13" in told
    assert "time constant" in told


def test_it_says_who_was_told_and_when_somebody_saw_it(page: str) -> None:
    told = part(page, "told")
    assert "To Ines: CRITICAL Three Oaks egg room (invented): no mains." in told
    assert "First acknowledged by Ines 02:16." in told


def test_it_says_how_long_the_program_itself_saw_nothing_and_what_nobody_knows(page: str) -> None:
    assert "this program saw nothing at all" in part(page, "blind")
    assert "no temperature can tell" in part(page, "not-known")


def test_the_timeline_is_there_in_order(page: str) -> None:
    told = part(page, "timeline-head")
    lost, off, back = (told.index(each) for each in ("mains is absent", "did not run from", "The mains is there again"))
    assert lost < off < back


def test_the_list_leads_to_it_and_says_that_it_waits(app: FastAPI, number: int) -> None:
    html = ask(app, "/incidents").text
    told = words(html)
    assert "1 incident waits for a review" in told
    assert "to review Mains lost 02:07 to" in told
    assert "the whole site" in told
    assert f'href="/incidents/{number}"' in html


def test_the_first_page_and_the_page_of_alarms_lead_there(site: DemoSite, app: FastAPI, number: int) -> None:
    html = ask(app, "/").text
    assert "An incident of last night waits for your review" in html
    assert f'id="to-review" class="far to-review" href="/incidents/{number}"' in html


@pytest.mark.parametrize(
    "path",
    ["/incidents/9999", "/incidents/0", "/incidents/x", "/incidents/9999/sheet.html", "/incidents?before=x"],
)
def test_an_incident_that_there_is_not_is_a_page_with_a_way_back(app: FastAPI, path: str) -> None:
    answer = ask(app, path)
    assert answer.status_code == 404
    assert 'href="/incidents"' in answer.text


@pytest.mark.parametrize(
    ("since", "until", "field", "said"),
    [
        ("2026-06-21T03:00", "2026-06-21T02:00", "until", "The period ends before it begins"),
        ("2027-01-01T00:00", "2027-01-02T00:00", "since", "The period lies ahead"),
        ("2026-01-01T00:00", "2026-06-21T02:00", "since", "at most"),
        ("2020-01-01T00:00", "2020-01-02T00:00", "since", "knows nothing of this time"),
        ("<b>", "", "since", "<b>"),
        ("2026-06-21T02:00", "yesterday", "until", "yesterday"),
        ("", "2026-06-21T02:00", "since", "since"),
    ],
)
def test_a_period_that_is_none_is_refused_beside_the_field_and_stays_typed(
    app: FastAPI, since: str, until: str, field: str, said: str
) -> None:
    answer = ask(app, f"/review?{urlencode({'since': since, 'until': until})}")
    assert answer.status_code == 422
    [wrong] = re.findall(r'<input id="(\w+)"[^>]*aria-invalid="true"[^>]*aria-describedby="period-wrong"', answer.text)
    assert wrong == field
    assert said in error_beside(answer.text.replace("period-wrong", "period-error"), "period")
    for name, value in (("since", since), ("until", until)):
        [typed] = re.findall(rf'<input id="{name}"[^>]* value="([^"]*)"', answer.text)
        assert unescape(typed) == value


def test_without_a_period_the_form_is_there_with_the_last_day_filled_in(app: FastAPI) -> None:
    html = ask(app, "/review").text
    assert 'value="2026-06-20T10:41"' in html
    assert 'value="2026-06-21T10:41"' in html


def test_any_period_has_its_account_without_a_form_to_write_in(app: FastAPI, number: int) -> None:
    answer = ask(app, "/review?since=2026-06-21T00:00&until=2026-06-21T08:00")
    told = words(answer.text)
    assert answer.status_code == 200
    assert "Review of a period" in told
    assert f'href="/incidents/{number}"' in answer.text
    assert "textarea" not in answer.text
    assert 'value="2026-06-21T00:00"' in answer.text


def test_a_calm_period_says_that_there_was_nothing(app: FastAPI) -> None:
    told = words(ask(app, "/review?since=2026-06-18T00:00&until=2026-06-18T08:00").text)
    assert "shows no incident" in told
    assert "Nobody was sent a message in this time." in told


def test_the_sheet_is_one_file_without_scripts_with_all_of_it_unfolded(app: FastAPI, number: int) -> None:
    answer = ask(app, f"/incidents/{number}/sheet.html")
    assert answer.headers["Content-Disposition"] == f'attachment; filename="incident-{number}.html"'
    html = answer.text
    assert "<script" not in html
    assert not re.search(r'(href|src)="(?!#)', html)
    assert "@page" in html
    assert html.count("<details") == len(re.findall(r"<details[^>]* open>", html))
    told = words(re.sub(r"<style>.*?</style>", "", html, flags=re.DOTALL))
    for said in (
        "Incident",
        "Three Oaks egg room (invented)",
        "Made Sun 21 Jun 2026 10:41",
        "Cause, as far as",
        "signature",
    ):
        assert said in told
    assert "not a safety device" in told
    assert all(clutch.label in told for clutch in scenario.CLUTCHES)


def test_the_sheet_names_the_head_of_the_chain_of_events(app: FastAPI, number: int, site: DemoSite) -> None:
    code = pages_of(site).reviews.review_of(number).chain_code
    assert code
    assert code in words(ask(app, f"/incidents/{number}/sheet.html").text)


def test_a_period_can_be_kept_as_a_file_as_well(app: FastAPI) -> None:
    answer = ask(app, "/review/sheet.html?since=2026-06-21T00:00&until=2026-06-21T08:00")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="review.html"'
    assert "Review of a period" in answer.text


def test_programs_get_the_same_numbers_with_null_where_nothing_is_known(app: FastAPI, number: int) -> None:
    listed = ask(app, "/api/incidents?limit=1").json()
    assert len(listed["incidents"]) == 1
    older = ask(app, listed["next"]).json()
    assert [each["number"] for each in older["incidents"]] == [number]
    [incident] = older["incidents"]
    assert (incident["cause"], incident["waits_for_review"], incident["state"]) == ("mains-lost", True, "to review")
    found = ask(app, f"/api/incidents/{number}").json()
    assert found["incident"] == incident
    [shelf] = [each for each in found["places"] if each["place"] == "warm/shelf"]
    [gap] = shelf["gaps"]
    assert len(gap["at_ms"]) == len(gap["low_c"]) == len(gap["best_c"]) == len(gap["high_c"])
    assert gap["coldest_c"]["low"] <= gap["coldest_c"]["best"] <= gap["coldest_c"]["high"]
    assert {each["label"] for each in found["clutches"]} == {each.label for each in scenario.CLUTCHES}
    assert found["told"][0]["seen_by"]


def test_programs_hear_what_is_wrong_with_a_period(app: FastAPI) -> None:
    answer = ask(app, "/api/review?since=2026-06-21T03:00&until=2026-06-21T02:00")
    assert answer.status_code == 422
    assert "ends before it begins" in answer.json()["detail"]
    assert ask(app, "/api/incidents/9999").status_code == 404


def test_the_page_of_a_clutch_says_what_it_was_part_of(site: DemoSite, number: int) -> None:
    with ExitStack() as ending:
        html = ask(site.app(ending), "/clutches/1", headers={"Host": "127.0.0.1"}).text
        alarms = ask(site.app(ending), "/alarms", headers={"Host": "127.0.0.1"}).text
    assert "Was part of" in html
    assert f'href="/incidents/{number}">Mains lost</a>' in html
    assert 'id="to-incidents" href="/incidents"' in alarms
