"""How the eggs of a clutch are and when they are looked at next: in words, in the list and on its page."""

import re
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from daemon.clutch_record_values import EggsAndCheck
from daemon.clutches.eggs import EggCounts
from dashboards.app import create_app
from dashboards.clutch_eggs import check_mark, eggs_text
from dashboards.clutch_routes import ClutchPages
from dashboards.standing import Shape
from tests.dashboards import clutch_samples, samples
from tests.dashboards.asking import ask
from tests.dashboards.samples import DAY_MS, NOW_MS
from tests.dashboards.test_clutch_pages import house, labels

BERLIN = ZoneInfo("Europe/Berlin")
NBSP = "\N{NO-BREAK SPACE}"
ADA, BEA, CLEO = 1, 2, 3
TOLD = {
    ADA: EggsAndCheck(EggCounts(8, sound=6, watch=1, lost=1), NOW_MS + 2 * DAY_MS),
    BEA: EggsAndCheck(EggCounts(2, sound=2), NOW_MS - 3 * DAY_MS),
    CLEO: EggsAndCheck(EggCounts(3, hatched=2, lost=1, left_in_place=1), None),
}


@pytest.mark.parametrize(
    ("counts", "text"),
    [
        (EggCounts(8, sound=8), "8 sound"),
        (EggCounts(8, sound=6, watch=1, lost=1), "6 sound, 1 on watch, 1 lost"),
        (EggCounts(5, pipped=1, hatched=2, lost=2, left_in_place=1), "1 pipped, 2 hatched, 2 lost (1 still inside)"),
        (EggCounts(4, hatched=3, given_away=1), "3 hatched, 1 given away"),
        (EggCounts(0), "no egg"),
    ],
)
def test_what_there_is_none_of_is_left_out(counts: EggCounts, text: str) -> None:
    assert eggs_text(counts) == text


@pytest.mark.parametrize(
    ("due_ms", "shape", "word"),
    [
        # Now is 3 June, 14:02 in Berlin.
        (NOW_MS + 2 * DAY_MS, Shape.RING, "next check 5 Jun"),
        (NOW_MS + 60_000, Shape.RING, "next check today"),
        (NOW_MS - 60_000, Shape.CAUTION, "check was due today"),
        (NOW_MS - 3 * DAY_MS, Shape.CAUTION, "check was due 31 May"),
    ],
)
def test_a_check_that_is_late_has_another_word_and_another_shape(due_ms: int, shape: Shape, word: str) -> None:
    mark = check_mark(EggsAndCheck(None, due_ms), NOW_MS, BERLIN)
    assert mark is not None
    assert (mark.shape, mark.word.replace(NBSP, " ")) == (shape, word)


def test_where_no_check_is_due_none_is_told() -> None:
    assert check_mark(EggsAndCheck(EggCounts(3, sound=3), None), NOW_MS, BERLIN) is None


def test_the_list_tells_both_and_puts_late_checks_first() -> None:
    pages = ClutchPages(lambda _: None, lambda: (clutch_samples.closed(),), lambda _closed: TOLD)
    app = create_app(house, clutches=pages)
    page = ask(app, "/clutches?sort=check").text.replace(NBSP, " ")
    assert labels(page) == ["Bea", "Ada", "Cleo"]
    assert "6 sound, 1 on watch, 1 lost" in page
    assert re.search(r'href="#shape-caution"/></svg> check was due 31 May', page)
    told = ask(app, "/api/clutches?sort=check").json()["clutches"]
    assert [each["next_check_ms"] for each in told] == [NOW_MS - 3 * DAY_MS, NOW_MS + 2 * DAY_MS, None]
    assert [each["eggs"]["sound"] for each in told] == [2, 6, 0]
    assert told[1]["eggs"] == {
        "total": 8, "sound": 6, "watch": 1, "lost": 1, "pipped": 0, "hatched": 0, "given_away": 0, "left_in_place": 0
    }  # fmt: skip


def test_a_clutch_of_which_nothing_is_told_has_its_eggs_as_they_were_set_up() -> None:
    page = ask(create_app(house, clutches=ClutchPages(lambda _: None, tuple)), "/clutches").text
    assert labels(page) == ["Bea", "Ada", "Cleo"]
    assert "2 eggs · 24 days since set-up" in page
    assert "check" not in re.sub(r'type="checkbox"|value="check"|next check first|checked', "", page)


def test_the_page_of_a_clutch_tells_both() -> None:
    record = replace(clutch_samples.record(), told=TOLD[ADA])
    app = create_app(samples.overview, clutches=ClutchPages(lambda _: record, tuple))
    page = ask(app, "/clutches/1").text.replace(NBSP, " ")
    assert '<th scope="row">Eggs</th><td>2 set up; now 6 sound, 1 on watch, 1 lost</td>' in page
    assert '<th scope="row">Round</th><td>next check 5 Jun</td>' in page
    told = ask(app, "/api/clutches/1").json()
    assert (told["eggs"]["watch"], told["next_check_ms"]) == (1, NOW_MS + 2 * DAY_MS)
