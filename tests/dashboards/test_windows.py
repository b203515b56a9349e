"""The heat and the window of a clutch as the page shows them."""

from dataclasses import replace

import pytest

from daemon.development.window import NoWindow
from dashboards.figures import NBSP
from dashboards.view import page_view
from tests.dashboards import samples


def _plain(text: str) -> str:
    return text.replace(NBSP, " ").replace("\N{NARROW NO-BREAK SPACE}", " ").replace("\N{MINUS SIGN}", "-")


def test_the_heat_is_shown_with_its_interval_and_the_rate_of_the_last_days() -> None:
    clutch = page_view(samples.overview()).incubators[0].clutches[0]
    assert _plain(clutch.sure) == "between 4 890 and 5 131 °C·h"
    assert (
        _plain(clutch.rate) == "15.3 °C·h each hour now, 15.0 °C·h each hour of the last 3 days, at 28.2 °C on average"
    )
    in_fahrenheit = page_view(replace(samples.overview(), fahrenheit=True)).incubators[0].clutches[0]
    assert _plain(in_fahrenheit.rate).endswith("at 82.8 °F on average")


def test_a_window_is_told_with_its_likely_day_its_ends_and_what_makes_it_wide() -> None:
    """Laid from 8 May; now 3 June; the window from 3 to 15 July, drawn from laying to its end: 68 days.

    Parts are 1.645 standard deviations, as the window is: 3.1 d and 1.4 d.
    """
    window = page_view(samples.overview()).incubators[0].clutches[0].window
    assert window is not None
    assert _plain(window.heading) == "Hatching likely about 9 Jul"
    assert _plain(window.between) == "In 9 of 10 cases: 3 Jul to 15 Jul"
    assert [_plain(part) for part in window.parts] == ["how much clutches differ: ± 5.1 d", "the line itself: ± 2.3 d"]
    assert window.elapsed == pytest.approx(300 * 26 / 68, abs=0.1)
    assert window.band_left == pytest.approx(300 * 56 / 68, abs=0.1)
    assert window.band_left + window.band_width == pytest.approx(300, abs=0.1)
    assert window.likely == pytest.approx(300 * 62 / 68, abs=0.1)


@pytest.mark.parametrize(
    ("standing", "heading"), [("open", "Hatching due: likely about 9 Jul"), ("overdue", "Overdue since 15 Jul")]
)
def test_a_window_that_has_begun_or_ended_says_so(standing: str, heading: str) -> None:
    told = replace(samples.clutch(), window=replace(samples.WINDOW, standing=standing))  # type: ignore[arg-type]
    here = replace(samples.incubator(), clutches=(told,))
    window = page_view(samples.overview(here)).incubators[0].clutches[0].window
    assert window is not None
    assert _plain(window.heading) == heading


def test_a_clutch_with_heat_and_no_date_says_why() -> None:
    told = replace(samples.clutch(), window=NoWindow("No reading of late. No date."))
    here = replace(samples.incubator(), clutches=(told,))
    clutch = page_view(samples.overview(here)).incubators[0].clutches[0]
    assert (clutch.window, clutch.note) == (None, "No reading of late. No date.")


def test_hours_above_the_cap_and_below_the_zero_are_told_from_half_an_hour_on() -> None:
    told = replace(samples.clutch(), hours_above_cap=3.24, hours_below_zero=0.4)
    here = replace(samples.incubator(), clutches=(told,))
    clutch = page_view(samples.overview(here)).incubators[0].clutches[0]
    assert [_plain(line) for line in clutch.exposure] == [
        "About 3.2 h above the cap: counted as at the cap, not faster"
    ]


@pytest.mark.parametrize(("hours", "said"), [(47.9, "47.9 h"), (48.0, "2 days"), (963.7, "40 days")])
def test_from_two_days_on_hours_beyond_are_told_in_whole_days(hours: float, said: str) -> None:
    here = replace(samples.incubator(), clutches=(replace(samples.clutch(), hours_below_zero=hours),))
    clutch = page_view(samples.overview(here)).incubators[0].clutches[0]
    assert [_plain(line) for line in clutch.exposure] == [f"About {said} below the zero: counted as standing still"]


@pytest.mark.parametrize(("share", "said"), [(1.2, "120 %"), (1.21, "more than 120 %"), (3.4, "more than 120 %")])
def test_a_share_far_above_all_is_told_without_a_figure(share: float, said: str) -> None:
    here = replace(samples.incubator(), clutches=(replace(samples.clutch(), share=share),))
    assert _plain(page_view(samples.overview(here)).incubators[0].clutches[0].share) == said


def test_an_overdue_window_is_dated_by_its_end_and_drawn_up_to_now() -> None:
    """Window of 12 days that ended 10 days ago: 16 d of the 26 d since laying lie before its end."""
    day_ms = samples.DAY_MS
    over = replace(
        samples.WINDOW,
        earliest_ms=samples.NOW_MS - 22 * day_ms,
        likely_ms=samples.NOW_MS - 16 * day_ms,
        latest_ms=samples.NOW_MS - 10 * day_ms,
        standing="overdue",
    )
    here = replace(samples.incubator(), clutches=(replace(samples.clutch(), window=over),))
    window = page_view(samples.overview(here)).incubators[0].clutches[0].window
    assert window is not None
    assert _plain(window.heading) == "Overdue since 24 May"
    assert window.elapsed == 300
    assert window.band_left + window.band_width == pytest.approx(300 * 16 / 26, abs=0.1)
