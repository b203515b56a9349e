"""Water on the lids of places with eggs, from the newest readings, as the pages work it out.

A look costs one look-up of the newest reading of each channel of the site, and a few sums for each place that measures
both temperature and humidity of its air.
"""

from collections.abc import Iterator, Mapping

from config.places import Places
from config.site import Probe, Site
from config.words import AlarmKind, Quantity
from daemon.alarms.silence import window_ms
from daemon.climate.room_air import RoomReadings, room_at
from daemon.overview import ClimateNow
from daemon.overview_parts import At, climate_now, heard_now
from daemon.room import Room, stated_of
from daemon.standing.condensation import water_on_lid
from daemon.standing.found import Found
from daemon.standing_sources.source import Moment
from daemon.storage import samples
from daemon.storage.samples import StoredReading
from sensors.reading import ChannelKey

_AIR = frozenset({Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY})
_CLIMATE = _AIR | {Quantity.SURFACE_TEMPERATURE}


class Lids:
    """Looks at the places of one site; `ahead_s`: readings further ahead than this are of a clock that was wrong."""

    kinds = frozenset({AlarmKind.CONDENSATION})
    every_ms = 60_000

    def __init__(self, site: Site, ahead_s: float = 120.0) -> None:
        self._ahead_ms = round(ahead_s * 1000)
        self._places = Places(site)
        self._room = Room(site)
        self._fahrenheit = site.temperature_unit == "F"
        self._measured = tuple(place for place in self._places.all if _quantities(self._places, place) >= _AIR)
        self._wet: set[str] = set()
        """where water was on the lid at the last look that knew"""

    def found(self, moment: Moment) -> Iterator[Found]:
        """Everything that holds now of the lids over eggs."""
        until_ms = moment.now_ms + self._ahead_ms
        newest = samples.newest_until(moment.conn, until_ms) if self._measured else {}
        room = self._room.readings(moment.conn, moment.air.calibrations, moment.now_ms, moment.now_ms)
        for place in self._measured:
            if not moment.occupancy.lying_in(place, moment.now_ms):
                self._wet.discard(place)
                continue
            is_on = moment.is_on(AlarmKind.CONDENSATION, place)
            found = water_on_lid(
                place,
                self._climate(place, newest, room, moment),
                moment.now_ms,
                wet_before=is_on or place in self._wet,
                is_on=is_on,
                fahrenheit=self._fahrenheit,
            )
            if found is None:
                self._wet.discard(place)
                continue
            if found.known:
                self._wet.add(place)
            yield found

    def _climate(
        self, place: str, newest: Mapping[str, StoredReading], measured: RoomReadings | None, moment: Moment
    ) -> ClimateNow | None:
        places = self._places
        room = room_at(measured, stated_of(places.incubator_of(place)), moment.now_ms)
        at = At(place, place in places.boxes, room, places.temperature_factor(place))
        heard = [
            heard_now(key, window_ms(probe.interval_s), newest.get(key.channel), moment.air.calibrations)
            for probe in places.probes_at(place)
            for key in _keys(probe)
        ]
        return climate_now(at, heard)


def _keys(probe: Probe) -> list[ChannelKey]:
    return [
        ChannelKey(f"{probe.id}/{one.name}", probe.id, one.name, one.quantity)
        for one in probe.channels
        if one.quantity in _CLIMATE
    ]


def _quantities(places: Places, place: str) -> set[Quantity]:
    return {channel.quantity for probe in places.probes_at(place) for channel in probe.channels}
