"""How a clutch is at this moment, for the top of its page: its state as the list has it, readings, alarms. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from daemon.clutch_record_values import ClutchRecord
from daemon.overview import AlarmNow, ClutchNow, IncubatorNow, Overview
from dashboards import figures
from dashboards.alarm_paths import BOARD_PATH, alarm_path
from dashboards.alarms import alarm_mark, headline, ranked
from dashboards.clutch_list import GONE, channels_of, limits_mark
from dashboards.places import place_name, sentence_start
from dashboards.readings import ReadingView, reading_view
from dashboards.standing import Mark

_OF_A_CLUTCH = "clutch-"


@dataclass(frozen=True, slots=True)
class AlarmLine:
    """One alarm that is on where the clutch lies; `path` is that of its own page."""

    key: str
    mark: Mark
    headline: str
    since: str
    path: str


@dataclass(frozen=True, slots=True)
class ClutchNowView:
    """`mark` as in the list of clutches; `readings` are those it is judged by, each with where they are measured."""

    mark: Mark
    readings: tuple[tuple[str, ReadingView], ...]
    alarms: tuple[AlarmLine, ...]
    caution: str


def clutch_now_view(record: ClutchRecord, overview: Overview) -> ClutchNowView | None:
    """Say how it is; None for a clutch that is closed, or that does not lie anywhere yet."""
    if record.closed_at_ms is not None or record.clutch.set_up_ms > overview.now_ms:
        return None
    zone = ZoneInfo(overview.time_zone)
    for incubator in overview.incubators:
        for clutch in incubator.clutches:
            if clutch.clutch_id == record.clutch.clutch_id:
                return _now(clutch, incubator, overview, zone)
    return ClutchNowView(GONE, (), (), "")


def _now(clutch: ClutchNow, incubator: IncubatorNow, overview: Overview, zone: ZoneInfo) -> ClutchNowView:
    _, mark = limits_mark(clutch, incubator, overview)
    here = replace(incubator, alarms=tuple(_alarms_of(clutch, incubator)))
    alarms = [alarm for _, alarm in ranked([here])]
    return ClutchNowView(
        mark=mark,
        readings=tuple(
            (sentence_start(place_name(incubator, channel.place)), reading_view(channel, overview, zone))
            for channel in channels_of(clutch, incubator)
        ),
        alarms=tuple(_line(alarm, incubator, overview, zone) for alarm in alarms),
        caution=next((f"{alarm.caution}." for alarm in alarms if alarm.caution), ""),
    )


def _alarms_of(clutch: ClutchNow, incubator: IncubatorNow) -> Iterator[AlarmNow]:
    """Those of its box, of what that stands in, and of the clutch itself, that are on or wait for somebody."""
    for alarm in incubator.alarms:
        is_around = f"{clutch.place}/".startswith(f"{alarm.place}/")
        subject = alarm.key.partition(":")[2]
        is_of_another = subject.startswith(_OF_A_CLUTCH) and subject != f"{_OF_A_CLUTCH}{clutch.clutch_id}"
        if is_around and not is_of_another and (alarm.is_on or alarm.waits):
            yield alarm


def _line(alarm: AlarmNow, incubator: IncubatorNow, overview: Overview, zone: ZoneInfo) -> AlarmLine:
    since = figures.clock_text(figures.local(alarm.since_ms, zone), figures.local(overview.now_ms, zone))
    place = sentence_start(place_name(incubator, alarm.place))
    age = figures.age(overview.now_ms, alarm.since_ms)
    return AlarmLine(
        key=f"alarm-{alarm.kind}-{alarm.channel or alarm.place}",
        mark=alarm_mark(alarm),
        headline=headline(incubator, alarm),
        since=f"{place}, since {since} ({age}). {sentence_start(alarm.state)}.",
        path=alarm_path(alarm.key) if alarm.key else BOARD_PATH,
    )
