"""What is known of an alarm that was raised or cleared, for its text, and the message that carries the text."""

import sqlite3
from zoneinfo import ZoneInfo

from config.model import ROOM
from config.places import Places
from config.site import Site
from config.words import AlarmKind
from daemon.alarm_near import NearAlarms
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change, Side
from daemon.alarms.definitions import tuned
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage, rfc3339
from daemon.alarms.limits import limit_of
from daemon.alarms.probe_kinds import of_probe
from daemon.alarms.time_left import Ahead
from daemon.alarms.wording import AlertFacts, Stage, alert_text
from daemon.alarms.wrong import LIMITED
from daemon.board_looks import BoardLooks
from daemon.cooling_forecast import CoolingForecasts
from daemon.occupancy import Occupancy
from daemon.storage import calibrations, samples
from daemon.storage.outbox import OutboxMessage

RATE_SPAN_MS = 20 * 60_000
SHORTEST_RATE_SPAN_MS = 5 * 60_000
_WITHOUT_VALUE = frozenset({AlarmKind.PROBE_FAULT, AlarmKind.PROBES_DISAGREE})
"""Which value is right is just what is not known."""

_TIME_IS_THE_REASON = frozenset({AlarmKind.LIMIT_AHEAD, AlarmKind.LETHAL_AHEAD})
_HEAT_MAY_BE_OFF = frozenset({AlarmKind.MAINS_LOST, AlarmKind.SITE_SILENT, AlarmKind.LAST_PROBE_SILENT})


class AlertWriter:
    """Writes what people are told. Reads the journal for the rate of change and for how long the cold takes."""

    def __init__(self, site: Site, places: Places, status: MessageStatus, boards: BoardLooks | None = None) -> None:
        self._site = site
        self._places = places
        self._status = status
        self._boards = boards
        self._zone = ZoneInfo(site.time_zone)
        self._forecasts = CoolingForecasts(site, places)

    @property
    def status(self) -> MessageStatus:
        """Whether what it writes is about real eggs."""
        return self._status

    def facts(self, conn: sqlite3.Connection, transition: Transition, occupancy: Occupancy, now_ms: int) -> AlertFacts:
        """All that is known of one transition, for the text."""
        raised = transition.change is Change.RAISED
        channel = transition.channel
        newest = None if channel is None else samples.newest_good_of(conn, channel.channel)
        value = transition.value
        if value is None and newest is not None:
            value = calibrations.load(conn, self._site).corrected(newest.channel, newest.value, newest.measured_at_ms)
        definition = tuned(transition.kind, self._site.alarms)
        inside = occupancy.lying_in(transition.place, transition.at_ms) if transition.place else ()
        place = self._places.name(transition.place) if transition.place else self._site.name
        definition = of_probe(definition, transition.place, None if channel is None else channel.quantity)
        if transition.place == ROOM:
            inside = ()
        near = NearAlarms(occupancy).of(transition.place, transition.at_ms)
        still = [kind for kind in transition.still if self._is_beyond(kind, value, transition, occupancy)]
        return AlertFacts(
            stage=Stage.RAISED if raised else Stage.CLEARED,
            definition=definition,
            place=place,
            about=transition.about,
            quantity=None if channel is None else channel.quantity,
            since_ms=transition.since_ms,
            now_ms=max(now_ms, transition.at_ms),
            zone=self._zone,
            fahrenheit=self._site.temperature_unit == "F",
            ended_ms=None if raised else transition.at_ms,
            value=value if transition.kind not in _WITHOUT_VALUE else None,
            limit=transition.limit,
            worst=None if raised else transition.peak,
            rate_per_h=self._rate(conn, transition) if raised else None,
            last_reading_ms=newest.measured_at_ms if newest else None,
            clutches=tuple(clutch.label for clutch in inside),
            caution=near.then,
            must_say=near.must_say,
            detail=_detail(transition if self._boards is None else self._boards.said_now(conn, transition, now_ms)),
            # The reason of this one is the time that is left.
            time_left=transition.reason if raised and transition.kind in _TIME_IS_THE_REASON else "",
            still_out=still[0] if still and not raised else None,
            ahead=self._ahead(conn, transition, occupancy, now_ms) if raised else None,
        )

    def _is_beyond(self, kind: AlarmKind, value: float | None, transition: Transition, occupancy: Occupancy) -> bool:
        """Tell whether another alarm of the channel, which goes on, has its reason in the newest value."""
        if kind not in LIMITED or not self._places.exists(transition.place):
            return False
        found = limit_of(occupancy.limits(transition.place, transition.at_ms), kind)
        side, limit = (None, None) if found is None else found
        if side is None or limit is None or value is None:
            return True
        return value > limit if side is Side.HIGH else value < limit

    def message(
        self,
        transition: Transition,
        facts: AlertFacts,
        contact: str,
        message_id: str,
        kind: MessageKind,
        incident: str,
        now_ms: int,
    ) -> OutboxMessage:
        """One message for one contact, by these facts."""
        text = alert_text(facts)
        message = OutgoingMessage(
            message_id=message_id,
            kind=kind,
            status=self._status,
            site=self._site.name,
            place=facts.place,
            priority=facts.definition.priority,
            headline=text.headline,
            body=text.body,
            alarm=transition.kind,
            occurrence=transition.occurrence,
            value=transition.value if transition.value is not None else facts.value,
            limit=transition.limit,
            started_at=rfc3339(transition.since_ms),
            acknowledge_url=facts.link or None,
        )
        return OutboxMessage(message_id, contact, int(message.priority), now_ms, message.to_json(), incident)

    def _ahead(
        self, conn: sqlite3.Connection, transition: Transition, occupancy: Occupancy, now_ms: int
    ) -> Ahead | None:
        if transition.kind in _HEAT_MAY_BE_OFF:
            return self._forecasts.first_ahead(conn, transition, occupancy, max(now_ms, transition.at_ms))
        if not transition.place:
            return None
        limits = occupancy.limits(transition.place, transition.at_ms)
        return self._forecasts.ahead(conn, transition, limits, max(now_ms, transition.at_ms))

    def _rate(self, conn: sqlite3.Connection, transition: Transition) -> float | None:
        """Change per hour over the last minutes, from the readings at both ends; None where they say nothing."""
        if transition.kind not in LIMITED or transition.channel is None:
            return None
        start_ms = transition.at_ms - RATE_SPAN_MS
        near = samples.good_between(conn, transition.channel.channel, start_ms, transition.at_ms, 0)
        if not near:
            return None
        (first_ms, first), (last_ms, last) = near[0], near[-1]
        if last_ms - first_ms < SHORTEST_RATE_SPAN_MS:
            return None
        # Both by the same calibration: one that begins between the two would look like a change of the air.
        corrected, channel = calibrations.load(conn, self._site).corrected, transition.channel.channel
        first, last = corrected(channel, first, last_ms), corrected(channel, last, last_ms)
        return (last - first) / ((last_ms - first_ms) / 3_600_000)


def _detail(transition: Transition) -> str:
    """Why, in words, where the limit and the value do not say it."""
    said_otherwise = transition.kind in _TIME_IS_THE_REASON
    return "" if said_otherwise or (transition.kind in LIMITED and transition.limit is not None) else transition.reason
