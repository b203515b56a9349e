"""From the overview to what is shown: what is wrong comes first, and unknown is never well."""

from dataclasses import replace

import pytest

from config.words import Quantity
from daemon.overview import ChannelNow
from dashboards.standing import Shape, Standing, Tone, standing, standing_mark, suspicion
from dashboards.view import page_view
from sensors.reading import Quality
from tests.dashboards import samples

NBSP = "\N{NO-BREAK SPACE}"


def test_all_well_is_one_sentence() -> None:
    banner = page_view(samples.overview()).banner
    assert banner.heading == "All incubators are in range"
    assert (banner.mark.shape, banner.mark.word, banner.mark.tone) == (Shape.EGG, "In range", Tone.WELL)


@pytest.mark.parametrize(
    ("channel", "judged"),
    [
        (samples.temperature(28.4), Standing.IN_RANGE),
        (samples.temperature(30.0), Standing.IN_RANGE),
        (samples.temperature(30.1), Standing.HIGH),
        (samples.temperature(25.9), Standing.LOW),
        (samples.temperature(34.1), Standing.LETHAL_HIGH),
        (samples.temperature(9.0), Standing.LETHAL_LOW),
        (samples.temperature(None), Standing.NO_READING),
        (samples.temperature(28.4, quality=Quality.STUCK), Standing.SUSPECT),
        (samples.temperature(28.4, age_ms=samples.OLD_AFTER_MS), Standing.IN_RANGE),
        (samples.temperature(28.4, age_ms=samples.OLD_AFTER_MS + 1), Standing.OLD),
        (replace(samples.temperature(28.4), low=None, high=None), Standing.NO_LIMITS),
    ],
)
def test_a_reading_stands_as_its_limits_age_and_quality_say(channel: ChannelNow, judged: Standing) -> None:
    assert standing(channel, samples.overview()) is judged


@pytest.mark.parametrize(
    "channel",
    [
        samples.temperature(None),
        samples.temperature(28.4, quality=Quality.TOO_FAST),
        samples.temperature(28.4, age_ms=samples.OLD_AFTER_MS + 1),
        samples.temperature(30.1),
        samples.temperature(25.9),
    ],
)
def test_one_reading_that_is_not_well_is_enough_that_all_is_not_well(channel: ChannelNow) -> None:
    banner = page_view(samples.with_channels(channel, samples.humidity())).banner
    assert banner.heading.startswith("North cabinet, upper shelf: ")
    assert not banner.heading.endswith(".")
    assert banner.target == "place-north/upper"
    assert banner.mark.tone not in (Tone.WELL, Tone.PLAIN)


def test_every_state_of_a_reading_has_a_word_of_its_own() -> None:
    words = [standing_mark(judged, Quantity.AIR_TEMPERATURE).word for judged in Standing]
    assert len(set(words)) == len(words)


@pytest.mark.parametrize(
    ("channel", "word"),
    [
        (samples.temperature(25.9), "too cool"),
        (samples.temperature(30.1), "too warm"),
        (samples.temperature(9.0), "dangerously cold"),
        (samples.temperature(34.1), "dangerously hot"),
        (samples.humidity(74.0), "too dry"),
        (samples.humidity(96.0), "too humid"),
    ],
)
def test_a_reading_outside_its_limits_has_the_words_of_an_alarm_everywhere(channel: ChannelNow, word: str) -> None:
    page = page_view(samples.with_channels(channel))
    reading = page.incubators[0].places[0].readings[0]
    assert reading.mark.word == page.incubators[0].mark.word == word
    assert page.banner.heading == f"North cabinet, upper shelf: {word}, no alarm yet"
    assert page.banner.mark.word == "Look"
    assert reading.band is not None
    assert f", {word}." in reading.band.label


def test_every_reason_for_suspicion_is_told() -> None:
    assert suspicion(Quality.GOOD) == ""
    assert len(suspicion(sum(Quality)).split("; ")) == len(Quality)


def test_a_dew_point_of_old_readings_is_called_old_and_never_dry() -> None:
    old = replace(samples.climate(2.0), measured_at_ms=samples.NOW_MS - samples.OLD_AFTER_MS - 1)
    dew = page_view(samples.overview(replace(samples.incubator(), climates=(old,)))).incubators[0].places[0].dews[0]
    assert dew.mark.word == "old reading"
    assert dew.margin == ""


def test_each_channel_is_old_by_its_own_interval() -> None:
    age_ms = 10 * samples.MINUTE_MS
    quick, slow = samples.temperature(age_ms=age_ms), replace(samples.temperature(age_ms=age_ms), old_after_ms=age_ms)
    assert standing(quick, samples.overview()) is Standing.OLD
    assert standing(slow, samples.overview()) is Standing.IN_RANGE


def test_a_site_without_incubators_says_so_instead_of_being_well() -> None:
    banner = page_view(replace(samples.overview(), incubators=())).banner
    assert banner.heading == "No incubator is set up yet"
    assert banner.mark.tone is Tone.PLAIN


def test_readings_that_nothing_limits_are_not_called_in_range() -> None:
    free = replace(samples.temperature(), low=None, high=None, lethal_low=None, lethal_high=None)
    banner = page_view(samples.with_channels(free)).banner
    assert banner.heading == "Readings arrive, but no limits are watched"
    assert banner.mark.tone is Tone.PLAIN


def test_an_accelerated_clock_is_told_plainly() -> None:
    page = page_view(replace(samples.overview(), clock_rate=300.0))
    assert page.demo == "Demo: invented, 300 times faster than real time"
    assert page_view(samples.overview()).demo == ""


def test_readings_are_grouped_by_place_with_the_dew_point_of_that_place() -> None:
    [place] = page_view(samples.overview()).incubators[0].places
    assert place.heading == "Upper shelf"
    assert [reading.name for reading in place.readings] == ["Air temperature", "Relative humidity"]
    assert place.readings[0].value == ("28.4", "°C")
    assert place.readings[0].age.replace(NBSP, " ") == "20 s ago"
    assert place.dews[0].margin.replace(NBSP, " ") == "Surface 1.4 °C above the dew point"


@pytest.mark.parametrize(
    ("margin_k", "probability", "word", "margin"),
    [
        (2.0, 0.001, "dry", "Surface 3.6 °F above the dew point"),
        (2.0, 0.049, "dry", "Surface 3.6 °F above the dew point"),
        (2.0, 0.05, "close to condensation", "Surface 3.6 °F above the dew point"),
        (2.0, None, "close to condensation", "Surface 3.6 °F above the dew point"),
        (0.5, 0.2, "close to condensation", "Surface 0.9 °F above the dew point"),
        (0.02, 0.48, "close to condensation", "Surface less than 0.1 °F above the dew point"),
        (0.0, 0.5, "water settles", "Surface at the dew point"),
        (-1.0, 0.97, "water settles", "Surface 1.8 °F below the dew point"),
        (None, None, "margin unknown", ""),
    ],
)
def test_the_margin_to_condensation_is_told_in_words(
    margin_k: float | None, probability: float | None, word: str, margin: str
) -> None:
    here = replace(samples.incubator(), climates=(samples.climate(margin_k, probability),))
    dew = page_view(replace(samples.overview(here), fahrenheit=True)).incubators[0].places[0].dews[0]
    assert dew.mark.word == word
    assert dew.margin.replace(NBSP, " ") == margin


def test_a_surface_that_has_not_left_the_deadband_stays_wet_in_the_dew_and_in_the_banner() -> None:
    wet = replace(samples.climate(0.1, 0.4), stays_wet=True)
    page = page_view(samples.overview(replace(samples.incubator(), climates=(wet,))))
    assert page.incubators[0].places[0].dews[0].mark.word == "water settles"
    assert page.banner.heading == "Water settles in North cabinet, upper shelf"


def test_chance_hours_surface_humidity_and_deficit_are_told_with_what_is_not_known() -> None:
    dew = page_view(samples.overview()).incubators[0].places[0].dews[0]
    assert [line.replace(NBSP, " ") for line in dew.water] == [
        "Chance of water on the surface: under 1 %.",
        "Water on the surface in the last 24 h: about 3.2 h, with 5.0 h unknown; on a mean day of the week none.",
    ]
    assert [line.replace(NBSP, " ") for line in dew.more] == [
        "Measured on the lid.",
        "Humidity at the surface is above 80 %, from which mould can grow on it (ISO 13788).",
        "Vapour pressure deficit: 0.62 kPa.",
    ]


@pytest.mark.parametrize(
    ("range_h", "told"),
    [
        ((1.0, 9.0), "between 1.0 h and 9.0 h, as sure as the probes are, with 5.0 h unknown."),
        ((2.0, 5.9), "about 3.2 h, with 5.0 h unknown; on a mean day of the week none."),
        (None, "about 3.2 h, with 5.0 h unknown; on a mean day of the week none."),
    ],
)
def test_hours_with_water_that_may_be_few_or_many_are_told_by_both_ends(
    range_h: tuple[float, float] | None, told: str
) -> None:
    here = replace(samples.incubator(), climates=(replace(samples.climate(), condensation_range_24h=range_h),))
    line = page_view(samples.overview(here)).incubators[0].places[0].dews[0].water[1]
    assert line.replace(NBSP, " ") == f"Water on the surface in the last 24 h: {told}"


def test_hours_with_water_that_may_be_none_or_all_of_the_day_are_left_out() -> None:
    here = replace(samples.incubator(), climates=(replace(samples.climate(), condensation_range_24h=(0.0, 23.9)),))
    [line] = page_view(samples.overview(here)).incubators[0].places[0].dews[0].water
    assert line.startswith("Chance of water on the surface")


@pytest.mark.parametrize(
    ("probability", "told"), [(0.0, "under 1 %"), (0.0101, "1 %"), (0.126, "12 %"), (0.99, "99 %"), (1.0, "over 99 %")]
)
def test_a_chance_is_never_called_none_or_certain(probability: float, told: str) -> None:
    here = replace(samples.incubator(), climates=(samples.climate(0.2, probability),))
    line = page_view(samples.overview(here)).incubators[0].places[0].dews[0].water[0]
    assert line.replace(NBSP, " ") == f"Chance of water on the surface: {told}."


def test_without_a_surface_nothing_is_told_of_water_and_the_reason_and_the_deficit_stay() -> None:
    here = replace(samples.incubator(), climates=(samples.climate(None),))
    dew = page_view(samples.overview(here)).incubators[0].places[0].dews[0]
    assert dew.water == ()
    assert [line.replace(NBSP, " ") for line in dew.more] == [
        "Surface temperature unknown: there is no surface probe.",
        "Vapour pressure deficit: 0.62 kPa.",
    ]


def test_the_advice_to_add_water_stands_at_its_place_and_goes_when_its_readings_are_old() -> None:
    [place] = page_view(samples.overview()).incubators[0].places
    assert place.dry_out == "Add water by Friday (between Thursday and Sunday)"
    old = replace(samples.climate(), measured_at_ms=samples.NOW_MS - samples.OLD_AFTER_MS - 1)
    [place] = page_view(samples.overview(replace(samples.incubator(), climates=(old,)))).incubators[0].places
    assert place.dry_out == ""
    assert (place.dews[0].water, place.dews[0].more) == ((), ())


def test_a_suspect_reading_is_shown_with_its_reason() -> None:
    page = page_view(samples.with_channels(samples.temperature(85.0, quality=Quality.FAULT_VALUE)))
    reading = page.incubators[0].places[0].readings[0]
    assert reading.value == ("85.0", "°C")
    assert reading.mark.word == "suspect"
    assert reading.doubt == "the value of a broken or unplugged probe"


def test_a_clutch_shows_days_heat_and_share() -> None:
    clutch = page_view(samples.overview()).incubators[0].clutches[0]
    shown = f"{clutch.days} | {clutch.laid} | {clutch.heat} | {clutch.share}"
    plain = shown.replace(NBSP, " ").replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert plain == "24 days since set-up | laid 8 May to 9 May | 5 012 of 17 900 °C·h | 28 %"
    # 0.28 of a bar of 300
    assert clutch.share_width == 84.0
    assert clutch.place == "upper shelf, box N1"
    assert clutch.missing == ""


def test_a_clutch_beyond_its_constant_fills_the_bar_and_keeps_its_share() -> None:
    over = replace(samples.incubator(), clutches=(replace(samples.clutch(), share=1.07),))
    clutch = page_view(samples.overview(over)).incubators[0].clutches[0]
    assert (clutch.share, clutch.share_width) == (f"107{NBSP}%", 300.0)


def test_a_clutch_whose_development_pauses_shows_heat_and_why_there_is_no_share() -> None:
    clutch = page_view(samples.overview()).incubators[0].clutches[1]
    assert clutch.share == ""
    assert clutch.heat.replace("\N{NARROW NO-BREAK SPACE}", " ").replace(NBSP, " ") == "5 012 °C·h"
    assert clutch.note == "Development pauses: heat, but no share."
    assert clutch.missing.replace(NBSP, " ") == "3.5 h without readings: the heat of that time is estimated"


def test_a_clutch_without_a_thermal_constant_shows_days_and_why_there_is_no_heat() -> None:
    here = replace(samples.incubator(), clutches=(samples.days_only_clutch(),))
    [clutch] = page_view(samples.overview(here)).incubators[0].clutches
    assert (clutch.days, clutch.heat, clutch.share) == ("24 days since set-up", "", "")
    assert clutch.note == "No published thermal constant: days only."


def test_heat_stays_in_celsius_hours_on_a_fahrenheit_page_and_the_page_says_so() -> None:
    page = page_view(replace(samples.overview(), fahrenheit=True))
    assert page.incubators[0].clutches[1].heat.endswith("°C·h")
    assert "Heat is counted in °C·h, whatever unit the temperatures have." in page.footer


def test_the_version_changes_with_what_is_shown_and_only_then() -> None:
    first = page_view(samples.overview())
    same = page_view(replace(samples.overview(), now_ms=samples.NOW_MS + 1))
    other = page_view(samples.overview(samples.incubator(samples.temperature(28.5))))
    assert first.version == same.version
    assert first.version != other.version


@pytest.mark.parametrize(("hours", "shown"), [(0.0, ""), (0.49, ""), (0.5, "0.5 h"), (26.0, "26.0 h")])
def test_hours_without_readings_are_told_unless_they_are_no_gap(hours: float, shown: str) -> None:
    here = replace(samples.incubator(), clutches=(replace(samples.clutch(), hours_missing=hours),))
    missing = page_view(samples.overview(here)).incubators[0].clutches[0].missing
    assert missing.replace(NBSP, " ").split(" without")[0] == shown
