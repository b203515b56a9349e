"""The head of a clutch's page: its state as the list has it, the readings of now with their age, and its alarms."""

import re
from dataclasses import replace

from config.words import AlarmKind, Priority
from daemon.overview import AlarmNow, ClutchNow, Overview
from dashboards.clutch_now import clutch_now_view
from tests.dashboards import clutch_samples, samples
from tests.dashboards.asking import ask
from tests.dashboards.samples import DAY_MS, NOW_MS
from tests.dashboards.test_alarm_pages import words
from tests.dashboards.test_clutch_pages import app, house
from tests.support.called import HIGH, CalledHouse

COLD = replace(samples.temperature(24.0), low=26.0, high=30.0)


def overview(*alarms: AlarmNow, clutch: ClutchNow | None = None) -> Overview:
    here = samples.incubator(COLD, samples.humidity(), alarms=alarms)
    return samples.overview(replace(here, clutches=(clutch or samples.clutch("Ada 2026-1"),)), samples.south())


def head(page: str) -> str:
    [found] = re.findall(r'<section class="head".*?</section>', page, re.DOTALL)
    return words(found)


def test_the_page_begins_with_the_state_of_the_list_and_the_reading_with_its_age() -> None:
    listed = ask(app(overview()), "/clutches").text
    page = ask(app(overview()), "/clutches/1").text
    [flag] = re.findall(r'<p class="stands">(<span class="flag.*?</span>)', listed, re.DOTALL)
    assert "too cool" in flag
    assert "#shape-" in flag
    assert flag in page
    told = head(page)
    assert told.index("too cool") < told.index("24.0 °C") < told.index("of development")
    # 20 s old: tests/dashboards/samples.py.
    assert "20 s ago" in told


def test_each_alarm_where_it_lies_is_there_with_a_link_and_none_of_elsewhere() -> None:
    shelf = replace(samples.alarm(), key=HIGH)
    box = replace(
        samples.alarm(AlarmKind.HUMIDITY_LOW, Priority.LOW, "Too dry", channel="n1/rh"),
        place="north/upper/N1",
        key="a:b",
    )
    cabinet = replace(samples.alarm(AlarmKind.DOOR_OPEN, Priority.CRITICAL, "Door open", channel="d/d"), place="north")
    beside = replace(samples.alarm(headline="Beside", channel="n2/air"), place="north/upper/N2", key="c:d")
    longer_name = replace(samples.alarm(headline="Longer", channel="n10/air"), place="north/upper/N10", key="e:f")
    of_it = replace(samples.alarm(headline="Ada: pips", channel=""), key="near-pipping:clutch-1")
    of_another = replace(samples.alarm(headline="Bea: pips", channel=""), key="near-pipping:clutch-2")
    over = replace(samples.alarm(headline="Over", channel="x/y"), is_on=False, waits=False)
    view = clutch_now_view(
        clutch_samples.record(), overview(shelf, box, cabinet, beside, longer_name, of_it, of_another, over)
    )
    assert view is not None
    assert [each.headline for each in view.alarms] == [
        "North cabinet: door open",
        "North cabinet: too warm",
        "North cabinet: Ada: pips",
        "North cabinet: too dry",
    ]
    assert [each.path for each in view.alarms] == [
        "/alarms",
        f"/alarms/of/{HIGH}",
        "/alarms/of/near-pipping:clutch-1",
        "/alarms/of/a:b",
    ]
    assert "Unacknowledged." in view.alarms[0].since


def test_the_link_of_an_alarm_leads_to_its_page(drifted: CalledHouse) -> None:
    shown = drifted.overview()
    [clutch] = [each for incubator in shown.incubators for each in incubator.clutches]
    record = replace(clutch_samples.record(), clutch=clutch)
    view = clutch_now_view(record, shown)
    assert view is not None
    [alarm] = view.alarms
    assert alarm.mark.word == "URGENT alarm"
    assert "too warm" in words(ask(drifted.app, alarm.path).text)
    assert [str(reading.value).replace("\N{NO-BREAK SPACE}", " ") for _, reading in view.readings] == ["31.0 °C"]


def test_what_is_dangerous_in_reach_stands_before_the_alarm() -> None:
    page = ask(app(overview(replace(samples.alarm(), caution="Dangerous animals inside"))), "/clutches/1").text
    told = head(page)
    assert told.index("Dangerous animals inside.") < told.index("URGENT alarm")


def test_a_closed_clutch_and_one_not_yet_set_up_are_not_now_and_a_lost_place_is_told() -> None:
    record = clutch_samples.record()
    assert clutch_now_view(replace(record, closed_at_ms=NOW_MS), house()) is None
    ahead = replace(record, clutch=replace(record.clutch, set_up_ms=NOW_MS + DAY_MS))
    assert clutch_now_view(ahead, house()) is None
    lost = clutch_now_view(replace(record, clutch=replace(record.clutch, clutch_id=77)), house())
    assert lost is not None
    assert (lost.mark.word, lost.readings) == ("place is not in the site file", ())
