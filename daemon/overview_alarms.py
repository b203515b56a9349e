"""Pure: the alarms of the overview, as people stand to them at the alarm desk."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from config.site import Site
from daemon.alarm_desk_values import Entry
from daemon.alarm_memory import ChannelMemory
from daemon.alarm_near import NearAlarms
from daemon.alarms.definitions import tuned
from daemon.alarms.probe_kinds import of_probe
from daemon.alarms.state_values import AlarmMemory
from daemon.alarms.wrong import LIMITED, OVER, WRONG
from daemon.answer_values import person_name
from daemon.occupancy import Occupancy
from daemon.overview import AlarmNow
from daemon.overview_parts import alarms_now, background
from sensors.reading import ChannelKey


class AlarmsNow:
    """Gives the alarms of each channel at one moment, from what the desk holds and what the watch remembers."""

    def __init__(
        self,
        entries: Iterable[tuple[str, Entry]],
        memories: Mapping[str, ChannelMemory],
        site: Site,
        occupancy: Occupancy,
        now_ms: int,
    ) -> None:
        self._near = NearAlarms(occupancy)
        self._memories = memories
        self._site = site
        self._now_ms = now_ms
        self._names = {person.id: person.name for person in site.people}
        self._entries: dict[str, list[tuple[str, Entry]]] = {}
        for key, entry in sorted(entries, key=lambda each: each[0]):
            channel = entry.raised.channel
            self._entries.setdefault(channel.channel if channel else "", []).append((key, entry))

    def of(self, key: ChannelKey, place: str) -> Iterator[AlarmNow]:
        """Every alarm that is on, waits for a person, is held, or that a person silenced."""
        at_desk = self._entries.get(key.channel, [])
        yield from (self._at_desk(name, entry, place) for name, entry in at_desk if _is_shown(entry))
        kinds = {entry.raised.kind for _, entry in at_desk}
        # One that was on before there was a desk.
        for alarm in alarms_now(key, place, self._memories[key.channel], self._site, self._now_ms):
            if alarm.kind not in kinds:
                yield replace(alarm, caution=self._near.of(place, self._now_ms).text)

    @property
    def elsewhere(self) -> list[AlarmNow]:
        """Alarms that are about no channel: of a place, a clutch, or (with an empty place) the whole site."""
        at_desk = self._entries.get("", [])
        return [self._at_desk(name, entry, entry.raised.place) for name, entry in at_desk if _is_shown(entry)]

    def _at_desk(self, name: str, entry: Entry, place: str) -> AlarmNow:
        state, raised = entry.state, entry.raised
        quantity = None if raised.channel is None else raised.channel.quantity
        definition = of_probe(tuned(raised.kind, self._site.alarms), place, quantity)
        wrong = WRONG[raised.kind]
        shown = AlarmNow(
            kind=raised.kind,
            priority=definition.priority,
            place=place,
            channel="" if raised.channel is None else raised.channel.channel,
            state=state.shown.value,
            since_ms=raised.since_ms if state.since_ms is None else state.since_ms,
            headline=f"{raised.about}: {wrong}" if raised.about else f"{wrong[:1].upper()}{wrong[1:]}",
            body=definition.first_action,
            background=background(definition),
            key=name,
            occurrence=state.occurrence,
            version=state.version,
            waits=state.memory.waits_for_a_person,
            acknowledged_by=person_name(self._names, state.acknowledged_by),
            shelved_until_ms=None if state.shelf is None else state.shelf.until_ms,
            caution=self._near.of(place, self._now_ms).text,
        )
        if state.in_alarm:
            return shown
        over = OVER.get(raised.kind, f"was {wrong}")
        headline = f"{raised.about}: {over}" if raised.about else f"{over[:1].upper()}{over[1:]}"
        body = "It is back in range. Look what it was." if raised.kind in LIMITED else "It is over. Look what it was."
        return replace(shown, is_on=False, headline=headline, body=body, background="")


def _is_shown(entry: Entry) -> bool:
    state = entry.state
    kept = state.memory is not AlarmMemory.NORMAL or state.shelf is not None or state.out is not None
    return state.in_alarm or kept
