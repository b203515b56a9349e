"""The answer at the head of the page: what is wrong comes first, and where to go."""

from dataclasses import replace

import pytest

from config.words import AlarmKind, Priority
from daemon.overview import AlarmNow, ChannelNow, IncubatorNow
from dashboards.standing import Shape, Standing, Tone, standing
from dashboards.view import page_view
from sensors.reading import Quality
from tests.dashboards import samples
from tests.dashboards.samples import with_channels

NBSP = "\N{NO-BREAK SPACE}"


def test_the_most_urgent_alarm_is_the_answer() -> None:
    low = samples.alarm(AlarmKind.HUMIDITY_LOW, Priority.LOW, "Too dry", channel="north-air/rh")
    critical = samples.alarm(AlarmKind.TEMPERATURE_LETHAL_HIGH, Priority.CRITICAL, "Dangerously hot")
    page = page_view(with_channels(samples.temperature(34.6), samples.humidity(70.0), alarms=(low, critical)))
    assert page.banner.heading == "North cabinet: dangerously hot"
    assert page.banner.mark == (Shape.DOUBLE_UP, "CRITICAL alarm", Tone.CRITICAL)
    assert page.banner.lines == ("1 more alarm below.",)
    assert page.first_alarm is not None
    assert page.first_alarm.body == "Open the door.\nThen look at the thermostat."
    assert page.first_alarm.background == "Likely: a warm room. If nothing is done: stress. Time left: unknown."
    measured = page.first_alarm.measured.replace(NBSP, " ")
    assert measured == "Upper shelf: 34.6 °C, limit 34.0 °C. Since 13:50 (12 min ago)."
    assert page.banner.target == page.incubators[0].places[0].key == "place-north/upper"
    assert [alarm.headline for alarm in page.other_alarms] == ["North cabinet: too dry"]
    assert page.incubators[0].mark.word == "CRITICAL alarm"


def test_a_danger_that_somebody_has_acknowledged_stays_the_answer_as_long_as_it_is_on() -> None:
    lethal = replace(
        samples.alarm(AlarmKind.TEMPERATURE_LETHAL_HIGH, Priority.CRITICAL, "Dangerously hot", "acknowledged"),
        waits=False,
        acknowledged_by="Mara",
    )
    silent = samples.alarm(AlarmKind.NO_DATA, Priority.LOW, "No readings")
    page = page_view(with_channels(samples.temperature(35.7), alarms=(silent, lethal)))
    assert page.banner.heading == "North cabinet: dangerously hot"
    assert page.banner.mark == (Shape.DOUBLE_UP, "CRITICAL alarm", Tone.CRITICAL)
    assert page.banner.lines == (
        "Mara sees to it; it is not over.",
        "1 more alarm below; nobody has acknowledged 1 of them.",
    )
    assert page.incubators[0].mark.word == "CRITICAL alarm"
    assert [alarm.headline for alarm in page.other_alarms] == ["North cabinet: no readings"]


def test_of_one_priority_what_nobody_has_acknowledged_comes_first_and_what_is_over_or_silenced_last() -> None:
    seen = replace(samples.alarm(headline="Seen", state="acknowledged"), waits=False)
    over = replace(
        samples.alarm(priority=Priority.CRITICAL, headline="Over", state="returned to normal unacknowledged"),
        is_on=False,
    )
    shelved = replace(samples.alarm(priority=Priority.CRITICAL, headline="Shelved", state="shelved"), waits=False)
    calls = samples.alarm(headline="Calls")
    page = page_view(with_channels(samples.temperature(31.0), alarms=(over, shelved, seen, calls)))
    assert page.banner.heading == "North cabinet: calls"
    assert [alarm.headline.rpartition(" ")[2] for alarm in page.other_alarms] == ["seen", "shelved", "over"]


@pytest.mark.parametrize(
    ("kind", "channel", "measured"),
    [
        (AlarmKind.TEMPERATURE_LOW, samples.temperature(25.0), "25.0 °C, limit 26.0 °C"),
        (AlarmKind.TEMPERATURE_LETHAL_LOW, samples.temperature(9.0), "9.0 °C, limit 10.0 °C"),
        (AlarmKind.TEMPERATURE_HIGH, samples.temperature(30.04), "30.04 °C, limit 30.00 °C"),
        (
            AlarmKind.TEMPERATURE_HIGH,
            samples.temperature(85.0, quality=Quality.TOO_FAST),
            "85.0 °C (suspect), limit 30.0 °C",
        ),
        (AlarmKind.NO_DATA, samples.temperature(28.0, age_ms=samples.DAY_MS), "28.0 °C (old reading)"),
        (AlarmKind.TEMPERATURE_HIGH, replace(samples.temperature(31.0), high=None), "31.0 °C"),
    ],
)
def test_an_alarm_tells_the_newest_value_its_limit_and_whether_it_can_be_trusted(
    kind: AlarmKind, channel: ChannelNow, measured: str
) -> None:
    alarm = page_view(with_channels(channel, alarms=(samples.alarm(kind),))).first_alarm
    assert alarm is not None
    assert alarm.measured.replace(NBSP, " ") == f"Upper shelf: {measured}. Since 13:50 (12 min ago)."


def test_a_humidity_alarm_tells_its_limit_and_an_alarm_without_a_reading_its_place() -> None:
    dry = samples.alarm(AlarmKind.HUMIDITY_LOW, Priority.LOW, "Too dry", channel="north-air/rh")
    page = page_view(with_channels(samples.temperature(None), samples.humidity(70.0), alarms=(samples.alarm(), dry)))
    assert page.first_alarm is not None
    assert page.first_alarm.measured.startswith("Upper shelf. Since")
    assert page.other_alarms[0].measured.replace(NBSP, " ").startswith("Upper shelf: 70.0 %, limit 75.0 %. Since")


def test_the_worst_incubator_comes_first_and_equal_ones_as_they_are_stated() -> None:
    def named(name: str, *channels: ChannelNow, alarms: tuple[AlarmNow, ...] = ()) -> IncubatorNow:
        return replace(samples.incubator(*channels, alarms=alarms), incubator_id=name)

    cabinets = [
        named("well"),
        named("old", samples.temperature(age_ms=samples.DAY_MS)),
        replace(named("wet"), climates=(samples.climate(-1.0),)),
        replace(named("apart"), conflicts=(samples.CONFLICT,)),
        named("cool", samples.temperature(25.0)),
        named("hot", samples.temperature(35.0)),
        named("check", alarms=(samples.alarm(priority=Priority.LOW),)),
        named("urgent", alarms=(samples.alarm(priority=Priority.HIGH),)),
        named("also-well"),
    ]
    shown = [each.key.removeprefix("incubator-") for each in page_view(samples.overview(*cabinets)).incubators]
    assert shown == ["urgent", "check", "hot", "cool", "apart", "wet", "old", "well", "also-well"]


def test_water_that_settles_is_told_and_nothing_is_called_in_range_beside_it() -> None:
    here = replace(samples.incubator(), climates=(replace(samples.climate(-0.4), place="north/upper/N1"),))
    page = page_view(samples.overview(here, samples.south()))
    assert page.banner.heading == "Water settles in North cabinet, upper shelf, box N1"
    assert page.banner.mark == (Shape.DROP, "Look", Tone.LOW)
    assert page.banner.target == "place-north/upper/N1"
    assert page.incubators[0].mark.word == "water settles"
    low = replace(here, channels=(samples.temperature(25.0),))
    assert page_view(samples.overview(low)).banner.lines == ("Water settles in North cabinet, upper shelf, box N1.",)


def test_water_of_old_readings_is_not_told() -> None:
    old = replace(samples.climate(-1.0), measured_at_ms=samples.NOW_MS - samples.OLD_AFTER_MS - 1)
    banner = page_view(samples.overview(replace(samples.incubator(), climates=(old,)))).banner
    assert banner.heading == "All incubators are in range"


def test_the_whole_incubator_is_not_named_twice() -> None:
    cool = replace(samples.south(), channels=(replace(samples.south().channels[0], value=21.0),))
    assert page_view(samples.overview(cool)).banner.heading == "South cabinet: too cool, no alarm yet"


def test_an_alarm_of_one_channel_does_not_hide_the_trouble_of_another() -> None:
    page = page_view(with_channels(samples.temperature(31.2), samples.humidity(None), alarms=(samples.alarm(),)))
    assert page.banner.lines == ("North cabinet, upper shelf: without a reading.",)


def test_a_lost_broker_is_told_before_readings_that_still_look_good() -> None:
    overview = replace(samples.overview(), broker_connected=False, broker_detail="The broker refused the password.")
    banner = page_view(overview).banner
    assert banner.heading == "The broker is lost: no new readings reach this page"
    assert banner.mark.word == "Broker lost"
    assert banner.lines == ("The broker refused the password.",)


def test_an_alarm_is_told_before_a_lost_broker() -> None:
    overview = replace(with_channels(samples.temperature(31.2), alarms=(samples.alarm(),)), broker_connected=False)
    banner = page_view(overview).banner
    assert banner.heading == "North cabinet: too warm"
    assert any("broker is lost" in line for line in banner.lines)


def test_a_trouble_of_the_service_is_told_after_alarms_and_before_all_else() -> None:
    low = replace(with_channels(samples.temperature(25.9)), broker_connected=False, troubles=(samples.DISK_FULL,))
    banner = page_view(low).banner
    assert f"{banner.heading}." == samples.DISK_FULL
    assert (banner.mark.word, banner.mark.tone) == ("Look", Tone.CRITICAL)
    assert [line.split(":")[0] for line in banner.lines] == ["The broker is lost", "North cabinet, upper shelf"]
    alarmed = replace(
        with_channels(samples.temperature(31.2), alarms=(samples.alarm(),)), troubles=(samples.DISK_FULL,)
    )
    banner = page_view(alarmed).banner
    assert banner.heading == "North cabinet: too warm"
    assert banner.lines == (samples.DISK_FULL,)


def test_a_service_in_trouble_confirms_no_reading_and_still_tells_what_is_wrong() -> None:
    troubled = replace(samples.overview(), troubles=(samples.DISK_FULL,))
    assert standing(samples.temperature(28.4), troubled) is Standing.UNCONFIRMED
    assert standing(samples.temperature(30.1), troubled) is Standing.HIGH
    assert standing(samples.temperature(None), troubled) is Standing.NO_READING
    assert page_view(troubled).incubators[0].mark.word == "unconfirmed"


def test_clutches_that_do_not_suit_each_other_are_told_once_above_old_readings() -> None:
    old = samples.temperature(age_ms=samples.OLD_AFTER_MS + 1)
    here = replace(samples.incubator(old), conflicts=(samples.CONFLICT, "A second pair."))
    page = page_view(samples.overview(here))
    assert page.banner.mark.word == "Look"
    assert page.banner.heading == "North cabinet: clutches lie together that do not suit each other"
    assert page.banner.target == page.incubators[0].key
    assert page.banner.lines == ("North cabinet, upper shelf: with an old reading.",)
    assert page.incubators[0].conflicts == (samples.CONFLICT, "A second pair.")
    assert page.incubators[0].mark.word == "old reading"


def test_a_conflict_is_told_below_a_reading_outside_its_limits_and_is_the_mark_where_all_else_is_well() -> None:
    here = replace(samples.incubator(samples.temperature(30.4)), conflicts=(samples.CONFLICT,))
    banner = page_view(samples.overview(here)).banner
    assert banner.heading == "North cabinet, upper shelf: too warm, no alarm yet"
    assert banner.lines == ("North cabinet: clutches lie together that do not suit each other.",)
    calm = replace(samples.incubator(), conflicts=(samples.CONFLICT,))
    assert page_view(samples.overview(calm)).incubators[0].mark.word == "clutches do not suit"
