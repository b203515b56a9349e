"""How sure a reading is, when its probe was calibrated, and when that is due again."""

from dataclasses import replace

import pytest

from daemon.overview import ChannelNow
from daemon.standing.reading_trend import TOO_FEW, ReadingTrend, Way
from dashboards.readings import ReadingView
from dashboards.view import page_view
from sensors.reading import Quality
from tests.dashboards import samples
from tests.dashboards.asking import ask, pages

NBSP = "\N{NO-BREAK SPACE}"


def shown(view: ReadingView) -> tuple[str, ...]:
    return tuple(text.replace(NBSP, " ") for text in (view.sure, view.calibrated, view.due))


def readings(fahrenheit: bool = False, **changes: object) -> tuple[ReadingView, ...]:
    return of(replace(samples.temperature(), **changes), fahrenheit)  # type: ignore[arg-type]


def of(channel: ChannelNow, fahrenheit: bool = False) -> tuple[ReadingView, ...]:
    overview = replace(samples.with_channels(channel, samples.humidity()), fahrenheit=fahrenheit)
    return page_view(overview).incubators[0].places[0].readings


def test_a_value_is_told_with_two_standard_uncertainties_and_the_page_says_what_that_is() -> None:
    """0.15 K and 1.73 % times 2, the coverage factor for about 95 % (JCGM 100:2008, 6.3.3)."""
    air, moisture = readings()
    assert shown(air)[0] == "± 0.3 °C"
    assert shown(moisture)[0] == "± 3.5 %"
    page = page_view(samples.overview())
    assert "A value lies within its ± in about 95 of 100 cases." in page.footer


def test_an_uncertainty_is_a_difference_on_a_fahrenheit_page_and_never_shifted_by_32() -> None:
    air, _ = readings(fahrenheit=True, standard_uncertainty=0.5)
    assert shown(air)[0] == "± 1.8 °F"


@pytest.mark.parametrize(
    "channel",
    [
        replace(samples.temperature(), standard_uncertainty=None),
        samples.temperature(quality=Quality.STUCK),
        samples.temperature(None),
    ],
)
def test_nothing_is_called_sure_that_is_suspect_missing_or_of_unknown_error(channel: ChannelNow) -> None:
    assert of(channel)[0].sure == ""


def test_the_day_of_calibration_is_told_and_nothing_of_a_probe_without_one() -> None:
    """100 days before 3 June 2026 is 23 February."""
    air, moisture = readings()
    assert shown(air)[1:] == ("Calibrated 23 Feb 2026", "")
    assert shown(moisture)[1:] == ("", "")


@pytest.mark.parametrize(
    ("days_ago", "told"),
    [(-1, ""), (0, "Calibration due since 3 Jun"), (200, "Calibration due since 15 Nov 2025")],
)
def test_a_calibration_that_is_due_says_since_when(days_ago: int, told: str) -> None:
    air, _ = readings(calibration_due_ms=samples.NOW_MS - days_ago * samples.DAY_MS)
    assert shown(air)[2] == told


def test_the_dew_point_has_its_uncertainty() -> None:
    [dew] = page_view(samples.overview()).incubators[0].places[0].dews
    assert dew.sure.replace(NBSP, " ") == "± 0.8 °C"
    unknown = replace(samples.climate(), dew_point_u_k=None)
    [dew] = page_view(samples.overview(replace(samples.incubator(), climates=(unknown,)))).incubators[0].places[0].dews
    assert dew.sure == ""


def test_the_page_and_the_api_carry_all_of_it() -> None:
    due_ms = samples.NOW_MS - samples.DAY_MS
    here = samples.incubator(replace(samples.temperature(), calibration_due_ms=due_ms), samples.humidity())
    app = pages(samples.overview(here))
    page = ask(app, "/").text.replace(NBSP, " ")
    for text in ("± 0.3 °C", "± 0.8 °C", "Calibrated 23 Feb 2026", "Calibration due since 2 Jun"):
        assert page.count(text) == 1, text
    [north] = ask(app, "/api/overview").json()["incubators"]
    air, moisture = north["channels"]
    assert (air["standard_uncertainty_k"], moisture["standard_uncertainty_pct"]) == (0.15, 1.73)
    assert (air["calibrated_ms"], air["calibration_due_ms"]) == (samples.NOW_MS - 100 * samples.DAY_MS, due_ms)
    assert moisture["calibrated_ms"] is None
    assert north["climates"][0]["dew_point_u_k"] == 0.39


@pytest.mark.parametrize(
    ("trend", "word", "shape", "rate"),
    [
        (ReadingTrend(Way.RISING, 0.84, ""), "rising", "rising", "0.8 °C per hour"),
        (ReadingTrend(Way.FALLING, -1.2, ""), "falling", "falling", "1.2 °C per hour"),
        (ReadingTrend(Way.STEADY, 0.04, ""), "steady", "steady", ""),
        (TOO_FEW, "no trend", "untold", ""),
    ],
)
def test_a_trend_has_a_word_a_shape_and_where_it_moves_a_rate(
    trend: ReadingTrend, word: str, shape: str, rate: str
) -> None:
    air, _ = readings(trend=trend)
    assert air.trend is not None
    assert (air.trend.word, air.trend.shape, air.rate.replace(NBSP, " ")) == (word, shape, rate)
    page = ask(pages(samples.with_channels(replace(samples.temperature(), trend=trend))), "/").text
    assert f'<use href="#shape-{shape}"/></svg> {word}' in page
    assert f'id="shape-{shape}"' in page


def test_a_rate_on_a_fahrenheit_page_is_scaled_and_never_shifted_by_32() -> None:
    air, _ = readings(fahrenheit=True, trend=ReadingTrend(Way.RISING, 1.0, ""))
    assert air.rate.replace(NBSP, " ") == "1.8 °F per hour"


@pytest.mark.parametrize(
    "channel",
    [
        samples.temperature(age_ms=20 * samples.MINUTE_MS),
        samples.temperature(quality=Quality.STUCK),
        samples.temperature(None),
    ],
    ids=["old", "suspect", "none"],
)
def test_a_reading_that_does_not_say_how_it_is_now_has_no_trend(channel: ChannelNow) -> None:
    air, _ = of(replace(channel, trend=ReadingTrend(Way.RISING, 0.84, "")))
    assert (air.trend, air.rate) == (None, "")
