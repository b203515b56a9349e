"""The read side: what a page asks for, from the journal and the site, at one moment."""

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.model import ROOM
from config.places import Places
from config.site import Incubator, Probe, Site
from config.species import SpeciesProfile
from config.words import Quantity
from daemon.alarm_desk_store import from_rows
from daemon.alarm_desk_values import Entry
from daemon.alarms.limits import Limits
from daemon.alarms.silence import window_ms
from daemon.arrival import BrokerState
from daemon.box_climate import BoxClimate, BoxClimates, Watched, with_last_days
from daemon.climate.room_air import ROOM_READING_COUNTS_MS, RoomReadings, room_at
from daemon.clutches import register
from daemon.clutches.register import Clutch
from daemon.heat_now import HeatNow, HeatReader
from daemon.heat_totals import HeatTotals
from daemon.occupancy import Occupancy
from daemon.overview import ClutchNow, IncubatorNow, Messages, Overview, Untold
from daemon.overview_alarms import AlarmsNow
from daemon.overview_clutch import clutch_now, stage_begins_now
from daemon.overview_parts import At, Heard, channel_now, climate_now, heard_now, memories
from daemon.overview_past import Past
from daemon.overview_past_reader import PastReader
from daemon.overview_untold import UntoldAlarms
from daemon.reading_trends import ReadingTrends
from daemon.room import Room, stated_of
from daemon.rota import rota_of
from daemon.round_last import LastRounds
from daemon.round_sooner import SoonerChecks
from daemon.rounds.last import RoundDue
from daemon.rounds_now import rounds_due_now, rounds_now
from daemon.standing.reading_trend import ReadingTrend
from daemon.storage import alarm_log, desk, late, messages, outbox, samples
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
    alarms: AlarmsNow
    untold: tuple[Untold, ...]
    last_days: Mapping[str, BoxClimate]
    room: RoomReadings | None
    pasts: Mapping[int, Past]
    trends: Mapping[str, ReadingTrend | None]
    rounds_due: tuple[RoundDue, ...]


class Queries:
    """Answers for pages. Safe to use from any thread; every call reads one moment of the journal.

    `sooner`: which clutches are to be seen before they are due; whoever tells of it shares what it keeps.
    """

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
        self._room = Room(site)
        self._untold = UntoldAlarms(site, self._places)
        self._box_climates = BoxClimates(ZoneInfo(site.time_zone))
        self._pasts = PastReader(site, profiles, self._bridge_ms)
        self._heat = HeatTotals()
        self._trends = ReadingTrends()
        self._last_rounds = LastRounds(site, profiles)
        self.sooner = SoonerChecks(site, profiles, longest_bridge_s)

    def overview(self, now_ms: int, clock_rate: float, broker: BrokerState, troubles: tuple[str, ...] = ()) -> Overview:
        """Everything on the first page; `troubles` are what the service knows of itself. Raises JournalError."""
        with self._journal.read() as conn:
            moment = self._moment(conn, now_ms)
            sent = outbox.totals(conn)
            stored = samples.count(conn)
            rounds, last_round = rounds_now(conn, self._site, now_ms), self._last_rounds.read(conn, now_ms)
        return Overview(
            site_name=self._site.name,
            time_zone=self._site.time_zone,
            fahrenheit=self._site.temperature_unit == "F",
            now_ms=now_ms,
            clock_rate=clock_rate,
            broker_connected=broker.connected,
            broker_detail=broker.detail,
            incubators=tuple(self._incubator(incubator, moment) for incubator in self._site.incubators),
            room=self._room_now(moment),
            whole_site=self._whole_site(moment),
            untold=moment.untold,
            rounds=rounds,
            last_round=last_round,
            rounds_due=moment.rounds_due,
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

    def _moment(self, conn: sqlite3.Connection, now_ms: int) -> _Moment:
        lying = register.clutches(conn)
        # One that was set up in a place that is gone from the site still has its heat.
        set_up = [clutch for clutch in lying if clutch.placements[0].from_ms <= now_ms]
        air = AirChannels(self._site)
        air.load(conn)
        totals = self._heat.read(conn, [clutch.clutch_id for clutch in lying], now_ms)
        reader = HeatReader(conn, self._site, self._profiles, air, self._bridge_ms, now_ms, totals=totals)
        heats = {clutch.clutch_id: reader.heat_of(clutch) for clutch in set_up}
        stages = {one.clutch_id: self._stage_begins(one, heats.get(one.clutch_id), now_ms) for one in lying}
        occupancy = Occupancy(lying, self._places, self._profiles, stages)
        corrections, version = air.calibrations, air.version(conn)
        entries = self._entries(conn)
        watched = self._watched(occupancy, now_ms)
        return _Moment(
            now_ms,
            occupancy,
            samples.newest(conn),
            corrections,
            heats,
            self._alarms(conn, entries, occupancy, now_ms),
            self._untold.of(entries.items()),
            self._box_climates.read(conn, watched, corrections, version, now_ms, late.changes(conn)),
            self._room.readings(conn, corrections, now_ms - ROOM_READING_COUNTS_MS, now_ms),
            self._pasts.read(conn, set_up, reader, air, now_ms),
            {name: self._trends.of(conn, key, corrections, now_ms) for name, key in self._channels.items()},
            rounds_due_now(conn, self._site, lying, now_ms),
        )

    def _entries(self, conn: sqlite3.Connection) -> Mapping[str, Entry]:
        return from_rows(desk.load(conn), rota_of(self._site, conn), (ROOM, *self._places.all))[0].entries

    def _alarms(
        self, conn: sqlite3.Connection, entries: Mapping[str, Entry], occupancy: Occupancy, now_ms: int
    ) -> AlarmsNow:
        remembered = memories(alarm_log.load_states(conn), self._channels)
        return AlarmsNow(entries.items(), remembered, self._site, occupancy, now_ms)

    def _stage_begins(self, clutch: Clutch, heat: HeatNow | None, now_ms: int) -> Sequence[int]:
        profile = self._profiles.get(clutch.species_id)
        return () if profile is None else stage_begins_now(clutch, profile, heat, now_ms)

    def _incubator(self, incubator: Incubator, moment: _Moment) -> IncubatorNow:
        names = self._names[incubator.id]
        occupancy, now_ms = moment.occupancy, moment.now_ms
        heard = {self._at(place, moment): self._heard(self._places.probes_at(place), moment) for place in names}
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
            clutches=tuple(self._clutch(clutch, moment) for clutch in occupancy.lying_in(incubator.id, now_ms)),
            alarms=(
                *(
                    alarm
                    for at, here in heard.items()
                    for each in here
                    for alarm in moment.alarms.of(each.key, at.place)
                ),
                *(alarm for alarm in moment.alarms.elsewhere if alarm.place in names),
            ),
            place_names=names,
            conflicts=self._conflicts(names, moment),
        )

    def _clutch(self, clutch: Clutch, moment: _Moment) -> ClutchNow:
        profile, heat = self._profiles.get(clutch.species_id), moment.heats.get(clutch.clutch_id)
        return clutch_now(clutch, profile, heat, moment.now_ms, moment.pasts.get(clutch.clutch_id, Past()))

    def _room_now(self, moment: _Moment) -> IncubatorNow | None:
        """What is measured around the incubators; None where nothing is."""
        heard = self._heard(self._places.room_probes(), moment)
        if not heard:
            return None
        name, at = self._places.name(ROOM), At(ROOM, False, None, None)
        return IncubatorNow(
            incubator_id=ROOM,
            name=name,
            channels=tuple(channel_now(each, at, Limits()) for each in heard),
            climates=(),
            clutches=(),
            alarms=tuple(alarm for each in heard for alarm in moment.alarms.of(each.key, ROOM)),
            place_names={ROOM: name},
        )

    def _whole_site(self, moment: _Moment) -> IncubatorNow | None:
        """Alarms that are about no incubator; None where there is none."""
        alarms = tuple(alarm for alarm in moment.alarms.elsewhere if not alarm.place or alarm.place == ROOM)
        if not alarms:
            return None
        name = self._site.name
        return IncubatorNow("", name, (), (), (), alarms, {"": name, ROOM: self._places.name(ROOM)})

    def _watched(self, occupancy: Occupancy, now_ms: int) -> Iterator[Watched]:
        """Every place where temperature and humidity of the air are measured."""
        for place in self._places.all:
            probes = self._places.climate_probes_at(place)
            of = {key.quantity: key.channel for probe in probes for key in self._keys(probe)}
            air, humidity = of.get(Quantity.AIR_TEMPERATURE), of.get(Quantity.RELATIVE_HUMIDITY)
            if air is not None and humidity is not None:
                is_box = place in self._places.boxes
                yield Watched(
                    place,
                    air,
                    humidity,
                    of.get(Quantity.SURFACE_TEMPERATURE),
                    self._places.temperature_factor(place),
                    max(window_ms(probe.interval_s) for probe in probes),
                    occupancy.limits(place, now_ms).humidity_low_pct if is_box else None,
                    stated_of(self._places.incubator_of(place)),
                    self._room.channel,
                )

    def _conflicts(self, places: Iterable[str], moment: _Moment) -> tuple[str, ...]:
        """Pairs of clutches that one climate does not suit: in a zone, which has one, and wherever one is watched."""
        found = (
            conflict.reason
            for place in places
            if place.count("/") == 1 or self._places.climate_probes_at(place)
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

    def _at(self, place: str, moment: _Moment) -> At:
        places = self._places
        room = room_at(moment.room, stated_of(places.incubator_of(place)), moment.now_ms)
        return At(place, place in places.boxes, room, places.temperature_factor(place))

    def _heard(self, probes: Iterable[Probe], moment: _Moment) -> list[Heard]:
        return [
            heard_now(key, window_ms(probe.interval_s), moment.newest.get(key.channel), moment.calibrations)._replace(
                trend=moment.trends.get(key.channel)
            )
            for probe in probes
            for key in self._keys(probe)
        ]

    def _keys(self, probe: Probe) -> list[ChannelKey]:
        return [self._channels[f"{probe.id}/{channel.name}"] for channel in probe.channels]
