"""What a clutch tells beyond heat and window: its stage, its exposure limits, and what is known of sex."""

import re
from dataclasses import replace

from dashboards.view import page_view
from tests.dashboards import samples
from tests.dashboards.asking import ask, pages
from tests.dashboards.test_app import busy

APP = pages(samples.overview(replace(samples.incubator(), clutches=(samples.telling_clutch(), samples.clutch()))))


def test_a_stage_and_exposure_limits_stand_open_and_sex_is_folded_with_its_source() -> None:
    page = ask(APP, "/").text
    folded = re.search(r'<details class="counted" id="clutch-4">(.*?)</details>', page, re.DOTALL)
    assert folded is not None
    assert page.count(samples.SEX) == folded.group(1).count(samples.SEX) == 1
    for sentence in (samples.STAGE, samples.PASSED.split(": ", 1)[1], samples.UNSURE.split(": ", 1)[1]):
        assert page.count(sentence) == 1
        assert sentence not in folded.group(1)


def test_the_verdict_on_an_exposure_limit_is_apart_from_its_reason() -> None:
    clutch = page_view(samples.overview(replace(samples.incubator(), clutches=(samples.telling_clutch(),))))
    limits = clutch.incubators[0].clutches[0].limits
    assert [verdict for verdict, _ in limits] == ["Exposure limit passed:", "Exposure limit possibly passed:"]
    assert limits[0][1].startswith("above 33 °C for 75 min")


def test_a_clutch_with_nothing_to_tell_costs_nothing() -> None:
    silent = page_view(samples.overview()).incubators[0].clutches[0]
    assert (silent.stage, silent.sex, silent.limits) == ("", "", ())
    page = ask(pages(samples.overview()), "/").text
    assert "xposure limit" not in page
    assert "<p></p>" not in page


def test_the_api_has_them_as_fields() -> None:
    telling, silent = ask(APP, "/api/overview").json()["incubators"][0]["clutches"]
    assert (telling["stage"], telling["sex"]) == (samples.STAGE, samples.SEX)
    assert telling["exposure_limits"] == [samples.PASSED, samples.UNSURE]
    assert (silent["stage"], silent["sex"], silent["exposure_limits"]) == ("", "", [])


def test_a_large_site_of_clutches_that_all_tell_costs_fifteen_per_cent_more_at_most() -> None:
    telling = [replace(each, stage=samples.STAGE, sex=samples.SEX) for each in busy().incubators[0].clutches]
    incubators = tuple(replace(each, clutches=tuple(telling)) for each in busy().incubators)
    overview = replace(busy(), incubators=incubators, room=samples.room())
    assert len(ask(pages(overview), "/").content) < 60 * 2_000 * 1.15
