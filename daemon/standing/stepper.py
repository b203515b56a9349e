"""Pure: from what looks find to alarms raised and cleared, with their delays. Times are UTC ms.

`look` at the same things at the same moments gives the same transitions, whatever happened in between: what is
remembered is plain values, kept in the journal with the step that they came from.
"""

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass, replace

from config.words import AlarmKind, Quantity
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.alarms.definition import AlarmDefinition
from daemon.standing.found import Found
from sensors.reading import ChannelKey


@dataclass(frozen=True, slots=True)
class Standing:
    """One condition that holds or has held until a moment ago.

    `begun_ms` is when it began to hold, `ending_ms` since when it has not held any more, `occurrence` is empty until
    the alarm is raised.
    """

    found: Found
    begun_ms: int
    ending_ms: int | None = None
    occurrence: str = ""


class StandingWatch:
    """The standing conditions of a site; `stored` is what `to_rows` gave before a restart."""

    def __init__(
        self, definitions: Mapping[AlarmKind, AlarmDefinition], stored: Mapping[str, str] | None = None
    ) -> None:
        self._definitions = definitions
        self._standing: dict[str, Standing] = {}
        self.problems: list[str] = []
        """a sentence for each stored condition that could not be read, and starts anew"""
        for name, text in (stored or {}).items():
            try:
                self._standing[name] = _from_json(text)
            except (ValueError, KeyError, TypeError, AttributeError) as error:
                self.problems.append(f"{name}: {error}")

    def to_rows(self) -> dict[str, str]:
        """All that has to survive a restart, as text by name."""
        return {name: _to_json(each) for name, each in self._standing.items()}

    def is_on(self, kind: AlarmKind, subject: str) -> bool:
        """True between the raising and the clearing of an alarm: the rule then applies its deadband."""
        standing = self._standing.get(f"{kind}:{subject}")
        return standing is not None and bool(standing.occurrence)

    def on(self) -> list[Transition]:
        """Every alarm that is on, as it was raised."""
        return [
            _transition(each, Change.RAISED, each.begun_ms, each.found.reason)
            for each in self._standing.values()
            if each.occurrence
        ]

    def adopt(self, raised: Transition) -> None:
        """Take over an alarm that people know to be on: it ends by the looks, as any other one does."""
        found = Found(
            raised.kind,
            raised.subject,
            raised.reason,
            raised.place,
            raised.about,
            raised.channel,
            raised.value,
            raised.limit,
        )
        self._standing[found.name] = Standing(found, raised.since_ms, None, raised.occurrence)

    def clock_was_set(self, by_ms: int) -> None:
        """The wall clock was set: a delay that runs has as far to go as before."""
        for name, each in self._standing.items():
            begun_ms = each.begun_ms if each.occurrence else each.begun_ms + by_ms
            ending_ms = None if each.ending_ms is None else each.ending_ms + by_ms
            self._standing[name] = replace(each, begun_ms=begun_ms, ending_ms=ending_ms)

    def forget_begun(self, kinds: Collection[AlarmKind]) -> None:
        """Nobody looked for a while: of what had only begun nobody knows whether it has lasted."""
        for name in [name for name, each in self._standing.items() if each.found.kind in kinds and not each.occurrence]:
            del self._standing[name]

    def look(self, kinds: Collection[AlarmKind], found: Iterable[Found], now_ms: int) -> list[Transition]:
        """Take what a look at these kinds found at this moment; what it did not find does not hold.

        Raises ValueError for a finding of another kind: it would never end.
        """
        transitions: list[Transition] = []
        seen: set[str] = set()
        for one in found:
            if one.kind not in kinds:
                raise ValueError(f"{one.name} was found by a look at other kinds: {', '.join(sorted(kinds))}")
            seen.add(one.name)
            transitions += self._holds(one, now_ms) if one.known else self._unknown(one)
        gone = [name for name, each in self._standing.items() if each.found.kind in kinds and name not in seen]
        for name in gone:
            transitions += self._ends(name, now_ms)
        return transitions

    def _holds(self, found: Found, now_ms: int) -> list[Transition]:
        before = self._standing.get(found.name)
        if before is None:
            before = Standing(found, now_ms if found.since_ms is None else min(found.since_ms, now_ms))
        # A clock that was set back must not hold an alarm up until it has caught up, and what is on goes with its
        # subject: a clutch may have been moved.
        there = replace(before.found, place=found.place)
        after = replace(before, found=there, begun_ms=min(before.begun_ms, now_ms), ending_ms=None)
        raised = []
        if not after.occurrence and now_ms - after.begun_ms >= self._definitions[found.kind].on_delay_s * 1000:
            after = replace(after, found=found, occurrence=f"{found.name}:{after.begun_ms}")
            raised.append(_transition(after, Change.RAISED, now_ms, found.reason))
        self._standing[found.name] = after
        return raised

    def _unknown(self, found: Found) -> list[Transition]:
        before = self._standing.get(found.name)
        if before is not None and before.occurrence:
            self._standing[found.name] = replace(before, ending_ms=None)
        elif before is not None:
            # It had only begun; what was not seen all the time has not lasted.
            del self._standing[found.name]
        return []

    def _ends(self, name: str, now_ms: int) -> list[Transition]:
        before = self._standing[name]
        if not before.occurrence:
            del self._standing[name]
            return []
        ending_ms = now_ms if before.ending_ms is None else min(before.ending_ms, now_ms)
        if now_ms - ending_ms < self._definitions[before.found.kind].off_delay_s * 1000:
            self._standing[name] = replace(before, ending_ms=ending_ms)
            return []
        del self._standing[name]
        return [_transition(before, Change.CLEARED, ending_ms, "it does not hold any more")]


def _transition(standing: Standing, change: Change, at_ms: int, reason: str) -> Transition:
    found = standing.found
    return Transition(
        kind=found.kind,
        channel=found.channel,
        place=found.place,
        change=change,
        at_ms=at_ms,
        since_ms=standing.begun_ms,
        value=found.value,
        limit=found.limit,
        peak=None,
        occurrence=standing.occurrence,
        told=True,
        still=(),
        reason=reason,
        subject=found.subject,
        about=found.about,
    )


def _to_json(standing: Standing) -> str:
    return json.dumps(asdict(standing), separators=(",", ":"))


def _from_json(text: str) -> Standing:
    stored = json.loads(text)
    found = stored.pop("found")
    channel = found.pop("channel")
    key = None if channel is None else ChannelKey(**{**channel, "quantity": Quantity(channel["quantity"])})
    return Standing(Found(**{**found, "kind": AlarmKind(found["kind"]), "channel": key}), **stored)
