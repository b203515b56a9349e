"""The air around the incubators, where a probe measures it: a small strip under them. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.overview import IncubatorNow, Overview
from dashboards.alarms import alarm_mark, ranked
from dashboards.places import place_key
from dashboards.readings import ReadingView, reading_view
from dashboards.standing import Mark


@dataclass(frozen=True, slots=True)
class RoomView:
    """The room; `key` names it on the page. `mark` is that of its worst alarm, None without one."""

    key: str
    name: str
    mark: Mark | None
    readings: tuple[ReadingView, ...]


def room_view(room: IncubatorNow, overview: Overview, zone: ZoneInfo) -> RoomView:
    """Readings of the room, each with its own mark. No limits are watched there."""
    alarms = ranked((room,))
    return RoomView(
        key=place_key(room.incubator_id),
        name=room.name,
        mark=alarm_mark(alarms[0][1]) if alarms else None,
        readings=tuple(reading_view(channel, overview, zone) for channel in room.channels),
    )
