"""The read side: what a page asks for, from the journal and the site, at one moment."""

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.places import Places
from config.site import Incubator, Probe, Site
from config.species import SpeciesProfile
from config.words import Quantity
from daemon.alarm_memory import ChannelMemory
from daemon.alarms.silence import window_ms
from daemon.arrival import BrokerState
from daemon.box_climate import BoxClimate, BoxClimates, Watched, with_last_days
from daemon.climate.condensation_risk import stated_lid
from daemon.clutches import register
from daemon.clutches.register import Clutch
from daemon.heat_now import HeatNow, HeatReader
from daemon.occupancy import Occupancy
from daemon.overview import IncubatorNow, Messages, Overview
from daemon.overview_clutch import clutch_now, stage_begins_now
from daemon.overview_parts import At, Heard, alarms_now, channel_now, climate_now, heard_now, memories
from daemon.storage import alarm_log, calibrations, messages, outbox, samples
from daemon.storage.journal import Journal
from daemon.storage.samples import StoredReading
from daemon.thermometers import AirChannels
from sensors.calibration import Calibrations
from sensors.reading import ChannelKey


@dataclass(frozen=True, slots=True)
class _Moment:
    """What the journal holds at one moment."""

    now_ms: int
    occupancy: Occupancy
    newest: Mapping[str, StoredReading]
    calibrations: Calibrations
    heats: Mapping[int, HeatNow | None]
    memories: Mapping[str, ChannelMemory]
    last_days: Mapping[str, BoxClimate]


class Queries:
    """Answers for pages. Safe to use from any thread; every call reads one moment of the journal."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        channels: Mapping[str, ChannelKey],
        longest_bridge_s: float,
    ) -> None:
        self._journal = journal
        self._bridge_ms = int(longest_bridge_s * 1000)
        self._site = site
        self._places = Places(site)
        self._profiles = profiles
        self._channels = channels
        self._names = {incubator.id: self._names_in(incubator) for incubator in site.incubators}
        self._box_climates = BoxClimates(ZoneInfo(site.time_zone))

    def overview(self, now_ms: int, clock_rate: float, broker: BrokerState, troubles: tuple[str, ...] = ()) -> Overview:
        """Everything on the first page; `troubles` are what the service knows of itself. Raises JournalError."""
        with self._journal.read() as conn:
            lying = register.clutches(conn)
            heats = self._heats(conn, lying, now_ms)
            stages = {one.clutch_id: self._stage_begins(one, heats.get(one.clutch_id), now_ms) for one in lying}
            occupancy = Occupancy(lying, self._places, self._profiles, stages)
            corrections = calibrations.load(conn, self._site)
            moment = _Moment(
                now_ms,
                occupancy,
                samples.newest(conn),
                corrections,
                heats,
                memories(alarm_log.load_states(conn), self._channels),
                self._box_climates.read(
                    conn, self._watched(occupancy, now_ms), corrections, calibrations.version(conn), now_ms
                ),
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

    def _heats(self, conn: sqlite3.Connection, lying: Iterable[Clutch], now_ms: int) -> dict[int, HeatNow | None]:
        air = AirChannels(self._site)
        air.load(conn)
        reader = HeatReader(conn, self._site, self._profiles, air, self._bridge_ms, now_ms)
        # One that was set up in a place that is gone from the site still has its heat.
        return {clutch.clutch_id: reader.heat_of(clutch) for clutch in lying if clutch.placements[0].from_ms <= now_ms}

    def _stage_begins(self, clutch: Clutch, heat: HeatNow | None, now_ms: int) -> Sequence[int]:
        profile = self._profiles.get(clutch.species_id)
        return () if profile is None else stage_begins_now(clutch, profile, heat, now_ms)

    def _incubator(self, incubator: Incubator, moment: _Moment) -> IncubatorNow:
        names = self._names[incubator.id]
        occupancy, now_ms = moment.occupancy, moment.now_ms
        heard = {self._at(place): self._heard(place, moment) for place in names}
        return IncubatorNow(
            incubator_id=incubator.id,
            name=incubator.name,
            channels=tuple(
                channel_now(each, at, occupancy.limits(at.place, now_ms)) for at, here in heard.items() for each in here
            ),
            climates=tuple(
                with_last_days(found, moment.last_days.get(at.place))
                for at, here in heard.items()
                if (found := climate_now(at, here)) is not None
            ),
            clutches=tuple(
                clutch_now(clutch, self._profiles.get(clutch.species_id), moment.heats.get(clutch.clutch_id), now_ms)
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

    def _watched(self, occupancy: Occupancy, now_ms: int) -> Iterator[Watched]:
        """Every place where temperature and humidity of the air are measured."""
        for place in self._places.all:
            probes = self._places.probes_at(place)
            of = {key.quantity: key.channel for probe in probes for key in self._keys(probe)}
            air, humidity = of.get(Quantity.AIR_TEMPERATURE), of.get(Quantity.RELATIVE_HUMIDITY)
            if air is not None and humidity is not None:
                at = self._at(place)
                yield Watched(
                    place,
                    air,
                    humidity,
                    of.get(Quantity.SURFACE_TEMPERATURE),
                    stated_lid(at.room_temperature_c, at.temperature_factor),
                    max(window_ms(probe.interval_s) for probe in probes),
                    occupancy.limits(place, now_ms).humidity_low_pct if at.is_box else None,
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

    def _heard(self, place: str, moment: _Moment) -> list[Heard]:
        return [
            heard_now(key, window_ms(probe.interval_s), moment.newest.get(key.channel), moment.calibrations)
            for probe in self._places.probes_at(place)
            for key in self._keys(probe)
        ]

    def _keys(self, probe: Probe) -> list[ChannelKey]:
        return [self._channels[f"{probe.id}/{channel.name}"] for channel in probe.channels]
