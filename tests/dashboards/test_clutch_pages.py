"""The list of clutches and the page of one: what they say, what they refuse, and where their drawings put things."""

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from fastapi import FastAPI

from daemon.clutch_record_values import ClutchRecord, OtherClutch
from daemon.development.window import NoWindow
from daemon.overview import Overview
from daemon.storage.errors import JournalError
from dashboards.app import create_app
from dashboards.clutch_routes import ClutchPages
from tests.dashboards import clutch_samples, samples
from tests.dashboards.asking import ask
from tests.dashboards.samples import DAY_MS, NOW_MS
from tests.dashboards.test_app import MARKUP, busy, read


def house() -> Overview:
    """Three clutches: Ada hatches in 36 days, Bea tomorrow and is the least far, Cleo has no date."""
    bea_window = replace(samples.WINDOW, likely_ms=NOW_MS + DAY_MS)
    clutches = (
        samples.clutch("Ada"),
        replace(samples.clutch("Bea"), clutch_id=2, share=0.2, window=bea_window, species_id="b", species_name="Boa"),
        replace(samples.days_only_clutch(), label="Cleo"),
    )
    return samples.overview(replace(samples.incubator(), clutches=clutches), samples.south())


def app(
    overview: Overview | None = None,
    one: Callable[[int], ClutchRecord | None] = lambda number: clutch_samples.record() if number == 1 else None,
    others: tuple[OtherClutch, ...] = (),
) -> FastAPI:
    return create_app(lambda: overview or house(), clutches=ClutchPages(one, lambda: others))


def labels(page: str) -> list[str]:
    return re.findall(r'<h2><a id="clutch-\d+" href="/clutches/\d+">([^<]*)</a></h2>', page)


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ("", ["Bea", "Ada", "Cleo"]),
        ("?sort=share", ["Ada", "Bea", "Cleo"]),
        ("?sort=label", ["Ada", "Bea", "Cleo"]),
        ("?species=b", ["Bea"]),
        ("?incubator=south", []),
        ("?incubator=north&sort=species", ["Bea", "Ada", "Cleo"]),
    ],
)
def test_the_list_is_ordered_and_chosen_by_its_address(asked: str, expected: list[str]) -> None:
    page = ask(app(), f"/clutches{asked}").text
    assert labels(page) == expected
    told = ask(app(), f"/api/clutches{asked}").json()
    assert [row["clutch"]["label"] for row in told["clutches"]] == expected


def test_a_row_says_share_window_eggs_day_and_how_its_climate_stands() -> None:
    hot = samples.overview(replace(samples.incubator(samples.temperature(30.4)), clutches=(samples.clutch(),)))
    page = ask(app(hot), "/clutches").text
    for told in ("28 %", "Hatching likely about 9 Jul", "2 eggs", "24 days since set-up", "too warm"):
        assert told in page.replace("\N{NO-BREAK SPACE}", " ")
    assert "too warm" not in ask(app(), "/clutches").text


def test_a_clutch_without_a_date_says_why_in_the_list_and_on_its_page() -> None:
    why = "Nothing is known of how long these eggs take. No date."
    alone = replace(samples.days_only_clutch(), reason="")
    page = ask(app(samples.overview(replace(samples.incubator(), clutches=(alone,)))), "/clutches").text
    assert why in page
    record = replace(clutch_samples.record(), clutch=alone, heat=())
    assert ask(app(one=lambda _number: record), "/clutches/1").text.count(why) == 2


def test_closed_clutches_are_behind_the_filter() -> None:
    with_closed = app(others=(clutch_samples.closed(),))
    assert "Old one" not in ask(with_closed, "/clutches").text
    page = ask(with_closed, "/clutches?closed=yes").text
    assert labels(page)[-1] == "Old one"
    assert "closed 24 May 2026" in page.replace("\N{NO-BREAK SPACE}", " ")
    assert "80 days from set-up to closing" in page


def test_a_wish_that_cannot_be_met_is_told_and_shown_as_text() -> None:
    page = ask(app(), "/clutches?sort=%3Cb%3E&species=none&incubator=nowhere")
    assert page.status_code == 200
    assert "There is no order “&lt;b&gt;”" in page.text
    assert "No clutch is of a species “none”." in page.text
    assert "There is no incubator “nowhere”." in page.text
    assert "Choose “all”." in page.text


def test_an_empty_house_says_how_to_enter_a_clutch() -> None:
    empty = samples.overview(replace(samples.incubator(), clutches=()))
    assert "Press “Enter a clutch”" in ask(app(empty), "/clutches").text
    only_closed = app(empty, others=(clutch_samples.closed(),))
    assert "No clutch is open." in ask(only_closed, "/clutches").text


@pytest.mark.parametrize("number", ["2", "abc", "-1", "1" * 400, "1%2F2", "%C2%B2", "0x1"])
def test_a_clutch_that_is_not_there_is_404_with_a_way_back(number: str) -> None:
    answer = ask(app(), f"/clutches/{number}")
    assert answer.status_code == 404
    if "%2F" not in number:
        assert 'href="/clutches"' in answer.text
        assert ask(app(), f"/api/clutches/{number}").json()["detail"].startswith("There is no such clutch.")


def test_the_page_shows_head_places_events_and_changes() -> None:
    page = ask(app(), "/clutches/1").text.replace("\N{NO-BREAK SPACE}", " ")
    for told in (
        "28 %",
        "15.3 °C·h each hour now, 15.0 °C·h each hour of the last 3 days, at 28.2 °C on average",
        "In 9 of 10 cases: 3 Jul to 15 Jul",
        "how much clutches differ",
        "Outside the limits of the time: 12.5 h too warm.",
        "24.0 h without good readings",
        "No humidity: no probe measures it where this clutch lay.",
        "Moved to North cabinet, upper shelf, box N1",
        "for 3 h",
        "goes on",
        "box N2",
        "still there",
        "by Ben",
        "Why: more room",
        "place: north/upper/N2 → <b>north/upper/N1</b>",
        "kept before at: <b>20.0 °C</b>",
    ):
        assert told in page, told
    assert page.index("by Ben") < page.index("by Ana <time")


def test_a_site_in_fahrenheit_reads_so_everywhere_and_heat_stays_in_degree_hours() -> None:
    page = ask(app(one=lambda _number: replace(clutch_samples.record(), fahrenheit=True)), "/clutches/1").text
    text = page.replace("\N{NO-BREAK SPACE}", " ")
    # by hand: 27 °C is 80.6 °F, 31 °C is 87.8 °F, 26 to 30 °C are 78.8 to 86.0 °F, 20 °C is 68 °F
    for told in ("Least 80.6 °F", "most 87.8 °F", "78.8 to 86.0 °F", "kept before at: <b>68.0 °F</b>", ">80</text>"):
        assert told in text, told
    assert "°C·h" in text
    assert "28.2 °C" not in text


def test_the_drawing_of_heat_puts_now_and_the_window_where_they_belong() -> None:
    """By hand: 62 to 470 for the 68 days from laying to the latest day: now is day 26, the window days 56 to 68."""
    page = ask(app(), "/clutches/1").text
    now = re.search(r'class="curve-now" d="M([\d.]+) ', page)
    window = re.search(r'<rect class="curve-window" x="([\d.]+)" y="18" width="([\d.]+)"', page)
    assert now is not None
    assert window is not None
    assert float(now[1]) == pytest.approx(62 + 408 * 26 / 68, abs=0.1)
    assert float(window[1]) == pytest.approx(62 + 408 * 56 / 68, abs=0.1)
    assert float(window[1]) + float(window[2]) == pytest.approx(470, abs=0.2)


def test_a_gap_in_the_readings_is_a_gap_in_the_drawing() -> None:
    broken = ask(app(), "/clutches/1").text
    whole_of = replace(clutch_samples.temperature(), cells=clutch_samples.cells(27.0, 31.0, None))
    whole = ask(app(one=lambda _n: replace(clutch_samples.record(), temperature=whole_of)), "/clutches/1").text
    strokes = [re.search(r'class="course-mean" d="([^"]+)"', page) for page in (broken, whole)]
    assert [stroke[1].count("M") for stroke in strokes if stroke] == [2, 1]
    told_of = tuple(
        replace(cell, gap_before=number == 5) for number, cell in enumerate(clutch_samples.cells(27.0, 31.0, None))
    )
    longer = replace(clutch_samples.temperature(), cells=told_of)
    page = ask(app(one=lambda _n: replace(clutch_samples.record(), temperature=longer)), "/clutches/1").text
    assert page.split('class="course-mean" d="')[1].split('"')[0].count("M") == 2


def test_a_closed_clutch_says_so_and_draws_no_way_ahead() -> None:
    over = replace(clutch_samples.record(), closed_at_ms=NOW_MS - DAY_MS, shown_ms=NOW_MS - DAY_MS)
    over = replace(over, clutch=replace(over.clutch, window=NoWindow("It is closed: no date is told any more.")))
    page = ask(app(one=lambda _number: over), "/clutches/1").text
    assert "<b>Closed.</b>" in page
    assert "curve-likely" not in page
    assert page.count("It is closed: no date is told any more.") == 1


def test_a_log_that_cannot_be_read_leaves_its_entry_without_values() -> None:
    record = clutch_samples.record()
    odd = replace(record, changes=(record.changes[0]._replace(new="not json", old="[1]"),))
    page = ask(app(one=lambda _number: odd), "/clutches/1")
    assert page.status_code == 200
    assert "<b>Entered</b> by Ana" in page.text
    assert ask(app(one=lambda _number: odd), "/api/clutches/1").json()["changes"][0]["new"] == {}


def test_markup_in_labels_and_notes_is_text_and_nothing_is_inline() -> None:
    named = replace(samples.incubator(), clutches=(samples.clutch(MARKUP),))
    with_markup = app(samples.overview(named), lambda _number: clutch_samples.record(MARKUP))
    for path in ("/clutches", "/clutches/1"):
        page = ask(with_markup, path).text
        assert "<b>Ada</b>" not in page
        assert "<b>shells</b>" not in page
        assert "&lt;b&gt;Ada&lt;/b&gt;" in page
        parser = read(page)
        assert parser.inline == []
        assert "<script" not in page
        assert parser.levels[0] == 1
        assert parser.levels.count(1) == 1
        assert len(set(parser.ids)) == len(parser.ids)


def test_the_api_has_curve_cells_and_events_with_their_units() -> None:
    told = ask(app(), "/api/clutches/1").json()
    assert told["heat"][-1] == {"at_ms": NOW_MS, "low_ch": 4_890.2, "best_ch": 5_012.4, "high_ch": 5_130.9}
    assert told["temperature"]["hours_above"] == 12.5
    assert len(told["temperature"]["cells"]) == 23
    assert told["events"][-1]["goes_on"] is True
    assert told["stays"][1]["end_ms"] is None
    assert told["changes"][1]["old"]["place"] == "north/upper/N2"
    paths = ask(app(), "/openapi.json").json()["paths"]
    assert {"/api/clutches", "/api/clutches/{number}"} <= paths.keys()


def test_the_first_page_leads_to_each_clutch_and_stays_within_its_size() -> None:
    page = ask(app(), "/").text
    assert re.findall(r'href="(/clutches/\d)"', page) == ["/clutches/1", "/clutches/2", "/clutches/3"]
    assert len(ask(app(busy()), "/").content) < 60 * 2_000
    assert "/clutches/1" not in ask(create_app(house), "/").text


def test_pages_of_a_large_site_are_small() -> None:
    assert len(ask(app(busy()), "/clutches").content) < 100_000
    assert len(ask(app(), "/clutches/1").content) < 100_000


def test_a_journal_that_cannot_be_read_is_told_and_only_reading_is_possible() -> None:
    def fails(_number: int) -> ClutchRecord:
        raise JournalError("cannot read the journal", "journal.sqlite3", "it is locked", "Wait.")

    assert ask(app(one=fails), "/clutches/1").status_code == 503
    assert ask(app(), "/clutches", "HEAD").status_code == 200
    for path in ("/clutches", "/clutches/1", "/api/clutches"):
        assert ask(app(), path, "POST").status_code == 405
