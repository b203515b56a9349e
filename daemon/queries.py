"""The read side: what a page asks for, from the journal and the site, at one moment."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from config.places import Places
from config.site import Incubator, Probe, Site
from config.species import SpeciesProfile
from daemon.alarm_memory import ChannelMemory
from daemon.alarms.silence import window_ms
from daemon.arrival import BrokerState
from daemon.clutches import register
from daemon.occupancy import Occupancy
from daemon.overview import IncubatorNow, Messages, Overview
from daemon.overview_parts import At, Heard, alarms_now, channel_now, climate_now, clutch_now, memories
from daemon.storage import alarm_log, heat, messages, outbox, samples
from daemon.storage.heat import HeatTotal
from daemon.storage.journal import Journal
from daemon.storage.samples import StoredReading
from sensors.reading import ChannelKey


@dataclass(frozen=True, slots=True)
class _Moment:
    """What the journal holds at one moment."""

    now_ms: int
    occupancy: Occupancy
    newest: Mapping[str, StoredReading]
    totals: Mapping[int, HeatTotal]
    memories: Mapping[str, ChannelMemory]


class Queries:
    """Answers for pages. Safe to use from any thread; every call reads one moment of the journal."""

    def __init__(
        self, journal: Journal, site: Site, profiles: Mapping[str, SpeciesProfile], channels: Mapping[str, ChannelKey]
    ) -> None:
        self._journal = journal
        self._site = site
        self._places = Places(site)
        self._profiles = profiles
        self._channels = channels
        self._names = {incubator.id: self._names_in(incubator) for incubator in site.incubators}

    def overview(self, now_ms: int, clock_rate: float, broker: BrokerState, troubles: tuple[str, ...] = ()) -> Overview:
        """Everything on the first page; `troubles` are what the service knows of itself. Raises JournalError."""
        with self._journal.read() as conn:
            moment = _Moment(
                now_ms,
                Occupancy(register.clutches(conn), self._places, self._profiles),
                samples.newest(conn),
                heat.totals(conn),
                memories(alarm_log.load_states(conn), self._channels),
            )
            sent = outbox.totals(conn)
            stored = samples.count(conn)
        return Overview(
            site_name=self._site.name,
            time_zone=self._site.time_zone,
            fahrenheit=self._site.temperature_unit == "F",
            now_ms=now_ms,
            clock_rate=clock_rate,
            broker_connected=broker.connected,
            broker_detail=broker.detail,
            incubators=tuple(self._incubator(incubator, moment) for incubator in self._site.incubators),
            alerts_delivered=sent["delivered"],
            alerts_waiting=sent["waiting"],
            samples_stored=stored,
            troubles=troubles,
        )

    def messages(self, limit: int) -> Messages:
        """What became of the messages, with the newest `limit` of the rejected ones. Raises JournalError."""
        with self._journal.read() as conn:
            return Messages(
                self._site.time_zone, messages.outcome_counts(conn), tuple(messages.newest_kept(conn, limit))
            )

    def _incubator(self, incubator: Incubator, moment: _Moment) -> IncubatorNow:
        names = self._names[incubator.id]
        occupancy, now_ms = moment.occupancy, moment.now_ms
        heard = {self._at(place): self._heard(place, moment.newest) for place in names}
        return IncubatorNow(
            incubator_id=incubator.id,
            name=incubator.name,
            channels=tuple(
                channel_now(each, at, occupancy.limits(at.place, now_ms)) for at, here in heard.items() for each in here
            ),
            climates=tuple(found for at, here in heard.items() if (found := climate_now(at, here)) is not None),
            clutches=tuple(
                clutch_now(clutch, self._profiles.get(clutch.species_id), moment.totals.get(clutch.clutch_id), now_ms)
                for clutch in occupancy.lying_in(incubator.id, now_ms)
            ),
            alarms=tuple(
                alarm
                for at, here in heard.items()
                for each in here
                for alarm in alarms_now(each.key, at.place, moment.memories[each.key.channel], self._site, now_ms)
            ),
            place_names=names,
            conflicts=self._conflicts(names, moment),
        )

    def _conflicts(self, places: Iterable[str], moment: _Moment) -> tuple[str, ...]:
        """Pairs of clutches that one climate does not suit: in a zone, which has one, and wherever one is watched."""
        found = (
            conflict.reason
            for place in places
            if place.count("/") == 1 or self._places.probes_at(place)
            for conflict in moment.occupancy.limits(place, moment.now_ms).conflicts
        )
        return tuple(dict.fromkeys(found))

    def _names_in(self, incubator: Incubator) -> dict[str, str]:
        """Every place in an incubator with a name that does not repeat the incubator's."""
        inside = {
            place: self._places.name(place).removeprefix(f"{incubator.name}, ")
            for place in self._places.within(incubator.id)
        }
        return {**inside, incubator.id: "whole incubator"}

    def _at(self, place: str) -> At:
        places = self._places
        return At(place, place in places.boxes, places.room_temperature_c(place), places.temperature_factor(place))

    def _heard(self, place: str, newest: Mapping[str, StoredReading]) -> list[Heard]:
        return [
            Heard(key, window_ms(probe.interval_s), newest.get(key.channel))
            for probe in self._places.probes_at(place)
            for key in self._keys(probe)
        ]

    def _keys(self, probe: Probe) -> list[ChannelKey]:
        return [self._channels[f"{probe.id}/{channel.name}"] for channel in probe.channels]
