"""The addresses of the web app."""

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from config.words import AlarmKind, Priority
from daemon.overview import Overview
from daemon.storage.errors import JournalError
from dashboards.app import create_app
from dashboards.inbox import Inbox
from sensors.reading import Quality
from tests.dashboards import samples
from tests.dashboards.asking import ask, pages

MARKUP = "<b>Ada</b> <script>alert(1)</script>"


class Headings(HTMLParser):
    """Collects the levels of headings, the ids, and what would be inline script or style."""

    def __init__(self) -> None:
        super().__init__()
        self.levels: list[int] = []
        self.ids: list[str] = []
        self.inline: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if re.fullmatch("h[1-6]", tag):
            self.levels.append(int(tag[1]))
        if named.get("id"):
            self.ids.append(str(named["id"]))
        if tag == "style" or (tag == "script" and "src" not in named):
            self.inline.append(tag)
        self.inline += [name for name in named if name == "style" or name.startswith("on")]


def read(html: str) -> Headings:
    parser = Headings()
    parser.feed(html)
    return parser


def busy() -> Overview:
    """A large site: 4 incubators, 24 channels, 60 clutches."""
    clutches = tuple(replace(samples.clutch(f"Clutch {n}"), clutch_id=n) for n in range(15))
    incubators = tuple(
        replace(
            samples.incubator(*(samples.temperature(), samples.humidity()) * 3, alarms=(samples.alarm(),)),
            incubator_id=f"incubator{n}",
            clutches=clutches,
        )
        for n in range(4)
    )
    return samples.overview(*incubators)


def test_the_status_page_shows_the_answer_and_the_readings() -> None:
    answer = ask(pages(samples.overview()), "/")
    assert answer.status_code == 200
    assert '<html lang="en">' in answer.text
    assert "All incubators are in range" in answer.text
    assert '28.4<span class="unit">°C</span>' in answer.text
    assert "Not a safety device." in answer.text


def test_the_heading_of_the_banner_leads_to_the_place_on_the_page() -> None:
    page = ask(pages(samples.overview(samples.south(), samples.incubator(alarms=(samples.alarm(),)))), "/").text
    address = re.search(r'<h1 id="answer"><a id="to-place" href="#([^"]+)">North cabinet: too warm</a></h1>', page)
    assert address is not None
    assert address[1] in read(page).ids
    assert "to-place" not in ask(pages(samples.overview()), "/").text


def test_an_alarm_tells_what_to_do_what_is_behind_it_and_how_people_stand_to_it() -> None:
    alarms = (samples.alarm(), samples.alarm(AlarmKind.HUMIDITY_LOW, Priority.LOW, "Too dry", channel="north-air/rh"))
    app = pages(samples.overview(samples.incubator(alarms=alarms)))
    page = ask(app, "/").text
    assert page.count("Open the door.") == page.count("Likely: a warm room. If nothing is done: stress.") == 2
    assert page.count("Unacknowledged.") == 2
    assert "<form" not in page
    told = ask(app, "/api/overview").json()["incubators"][0]["alarms"][0]
    assert (told["state"], told["background"]) == ("unacknowledged", samples.alarm().background)


def test_a_caution_stands_open_under_its_clutch_and_how_heat_is_counted_is_folded() -> None:
    venomous = replace(samples.clutch(), caution="Venomous: never alone.")
    app = pages(samples.overview(replace(samples.incubator(), clutches=(venomous, samples.days_only_clutch()))))
    page = ask(app, "/").text
    assert page.count("<b>Caution.</b> Venomous: never alone.") == 1
    folded = re.search(
        r'<details class="counted" id="clutch-1"><summary id="clutch-1-head">(.*?)</details>', page, re.DOTALL
    )
    assert folded is not None
    assert venomous.counted in folded.group(1)
    assert page.count(venomous.counted) == 1
    [told, _] = ask(app, "/api/overview").json()["incubators"][0]["clutches"]
    assert (told["caution"], told["counted"]) == (venomous.caution, venomous.counted)


def test_markup_in_a_label_is_shown_as_text() -> None:
    here = replace(samples.incubator(), name=MARKUP, clutches=(samples.clutch(MARKUP),))
    page = ask(pages(samples.overview(here)), "/").text
    assert "<b>Ada</b>" not in page
    assert "<script>alert" not in page
    assert page.count("&lt;b&gt;Ada&lt;/b&gt;") >= 2


def test_headings_are_in_order_and_ids_are_unique() -> None:
    here = samples.incubator(alarms=(samples.alarm(), samples.alarm(channel="north-air/rh")))
    parser = read(ask(pages(samples.overview(here, samples.south())), "/").text)
    assert parser.levels[0] == 1
    assert parser.levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in zip(parser.levels, parser.levels[1:], strict=False))
    assert len(set(parser.ids)) == len(parser.ids)


@pytest.mark.parametrize("path", ["/", "/inbox"])
def test_nothing_is_inline_and_nothing_comes_from_outside(path: str) -> None:
    page = ask(pages(samples.overview(), Inbox()), path).text
    assert read(page).inline == []
    assert "//" not in re.sub(r"\s+", "", page).replace("<!doctypehtml>", "")


def test_a_large_site_costs_two_kb_a_clutch_at_most() -> None:
    assert len(ask(pages(busy()), "/").content) < 60 * 2_000


@pytest.mark.parametrize(
    "path", ["/", "/inbox", "/api/overview", "/health", "/openapi.json", "/static/page.css", "/no"]
)
def test_every_answer_carries_the_security_headers(path: str) -> None:
    headers = ask(pages(samples.overview(), Inbox()), path).headers
    policy = headers["content-security-policy"].split("; ")
    assert {"default-src 'self'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"} <= set(policy)
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


def test_a_page_is_not_stored_by_a_browser_and_a_marked_static_file_is() -> None:
    app = pages(samples.overview())
    page = ask(app, "/")
    address = re.search(r'href="(/static/page\.css\?v=[0-9a-f]+)"', page.text)
    assert address is not None
    assert page.headers["cache-control"] == "no-store"
    assert "immutable" in ask(app, address[1]).headers["cache-control"]
    assert ask(app, "/static/page.css").headers["cache-control"] == "no-cache"


@pytest.mark.parametrize("path", ["/docs", "/redoc"])
def test_pages_that_would_load_from_outside_are_not_there(path: str) -> None:
    assert ask(pages(samples.overview()), path).status_code == 404


def test_the_api_says_the_unit_in_every_name() -> None:
    [north, _] = ask(pages(samples.overview()), "/api/overview").json()["incubators"]
    air, moisture = north["channels"]
    assert (air["temperature_c"], air["low_c"], air["lethal_high_c"], air["suspect"]) == (28.4, 26.0, 34.0, [])
    assert (moisture["relative_humidity_pct"], moisture["high_pct"]) == (84.0, 95.0)
    assert north["climates"][0]["dew_point_c"] == 25.4
    assert north["clutches"][0]["degree_hours_ch"] == 5_012.4


def test_the_api_stays_in_celsius_and_names_why_a_reading_is_suspect() -> None:
    here = samples.incubator(samples.temperature(85.0, quality=Quality.FAULT_VALUE | Quality.TOO_FAST))
    answer = ask(pages(replace(samples.overview(here), fahrenheit=True)), "/api/overview").json()
    [channel] = answer["incubators"][0]["channels"]
    assert channel["temperature_c"] == 85.0
    assert channel["suspect"] == ["fault_value", "too_fast"]


def test_the_api_is_described() -> None:
    described = ask(pages(samples.overview(), Inbox()), "/openapi.json").json()
    assert set(described["paths"]) == {"/api/overview", "/health", "/api/inbox", "/inbox/messages"}


def test_health_is_good_while_the_broker_is_there_and_readings_arrive() -> None:
    answer = ask(pages(samples.overview()), "/health")
    assert answer.status_code == 200
    assert answer.json() == {
        "healthy": True,
        "reasons": [],
        "broker_connected": True,
        "newest_reading_age_s": 20.0,
    }


@pytest.mark.parametrize(
    ("overview", "reason"),
    [
        (replace(samples.overview(), broker_connected=False), "The broker is not connected"),
        (samples.overview(samples.incubator(samples.temperature(None))), "No reading has arrived yet."),
        (
            samples.overview(samples.incubator(samples.temperature(age_ms=45 * samples.MINUTE_MS))),
            "No channel has a fresh reading: the newest, of north-air/t, is 45 min old and counts for 3 min.",
        ),
        (replace(samples.overview(), troubles=(samples.DISK_FULL,)), samples.DISK_FULL),
    ],
)
def test_health_is_bad_with_a_reason(overview: Overview, reason: str) -> None:
    answer = ask(pages(overview), "/health")
    assert answer.status_code == 503
    assert reason in " ".join(answer.json()["reasons"])


def test_health_is_good_while_one_channel_is_fresh_by_its_own_interval() -> None:
    silent = samples.temperature(age_ms=4 * samples.MINUTE_MS)
    slow = replace(samples.humidity(), measured_at_ms=silent.measured_at_ms, old_after_ms=15 * samples.MINUTE_MS)
    assert ask(pages(samples.overview(samples.incubator(silent, slow))), "/health").status_code == 200
    assert ask(pages(samples.overview(samples.incubator(silent))), "/health").status_code == 503


def test_nothing_is_called_in_range_while_the_service_has_a_trouble() -> None:
    well, troubled = samples.overview(), replace(samples.overview(), troubles=(samples.DISK_FULL,))
    assert "in range" in ask(pages(well), "/").text
    page = ask(pages(troubled), "/").text
    assert samples.DISK_FULL.removesuffix(".") in page
    assert "in range" not in page.lower()
    assert ask(pages(troubled), "/api/overview").json()["troubles"] == [samples.DISK_FULL]


def test_a_conflict_is_told_beside_its_incubator_and_in_the_api() -> None:
    app = pages(samples.overview(replace(samples.incubator(), conflicts=(samples.CONFLICT,))))
    assert ask(app, "/").text.count(samples.CONFLICT) == 1
    [north] = ask(app, "/api/overview").json()["incubators"]
    assert north["conflicts"] == [samples.CONFLICT]
    assert north["place_names"]["north/upper/N1"] == "upper shelf, box N1"


def test_a_journal_that_cannot_be_read_is_one_line_in_the_log_however_often_pages_ask(
    caplog: pytest.LogCaptureFixture,
) -> None:
    caplog.set_level("INFO")
    answers: list[Overview | None] = [None, None, None, samples.overview(), None]

    def sometimes() -> Overview:
        answer = answers.pop(0)
        if answer is None:
            raise JournalError("cannot read the journal", "journal.sqlite3", "the file is damaged", "Use a backup.")
        return answer

    app = create_app(sometimes)
    asked = [ask(app, path) for path in ("/", "/api/overview", "/health", "/", "/")]
    assert [answer.status_code for answer in asked] == [503, 503, 503, 200, 503]
    assert "look at them yourself" in asked[1].text
    why = "cannot read the journal (journal.sqlite3): the file is damaged. Use a backup."
    line = f"The pages have nothing to show: {why}"
    said = [record.getMessage() for record in caplog.records if record.name.startswith(("clutchwarden", "uvicorn"))]
    assert said == [line, "The pages can be shown again", line]
    assert "Traceback" not in caplog.text


def test_a_page_that_cannot_be_made_says_so_without_a_secret(caplog: pytest.LogCaptureFixture) -> None:
    def broken() -> Overview:
        raise RuntimeError("password=hunter2")

    app = create_app(broken)
    page, state = ask(app, "/"), ask(app, "/health")
    assert (page.status_code, state.status_code) == (503, 503)
    assert "look at them yourself" in page.text
    assert "hunter2" not in page.text + state.text
    assert page.headers["x-content-type-options"] == "nosniff"
    assert caplog.text.count("Traceback") == 1


def test_the_inbox_is_there_only_where_one_is_given() -> None:
    app = pages(samples.overview())
    assert ask(app, "/inbox").status_code == 404
    assert ask(app, "/inbox/messages", "POST", b"{}").status_code == 404
    assert "/inbox" not in ask(app, "/").text


def test_only_posting_a_message_changes_anything() -> None:
    inbox = Inbox()
    app = pages(samples.overview(), inbox)
    for path in ("/", "/inbox", "/api/overview", "/health", "/openapi.json"):
        ask(app, path)
    assert inbox.messages() == ()
    assert ask(app, "/inbox/messages").status_code == 405
    assert ask(app, "/", "POST").status_code == 405


def test_the_page_is_json_free_of_numbers_that_json_does_not_know() -> None:
    def refuse(name: str) -> None:
        raise AssertionError(name)

    json.loads(ask(pages(samples.overview()), "/api/overview").text, parse_constant=refuse)
