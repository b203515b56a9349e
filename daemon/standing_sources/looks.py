"""Asks every source when its time has come, and steps what they find into alarms."""

import logging
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from config.model import ROOM
from config.places import Places
from config.site import Site
from config.words import AlarmKind
from daemon.alarm_transition import Transition
from daemon.alarms.definitions import tuned
from daemon.standing.stepper import StandingWatch
from daemon.standing_sources.source import Moment, Source

log = logging.getLogger("clutchwarden.standing")

ROW = "standing "
"""Begins the names under which standing conditions are kept beside the alarms of channels."""
LOOKED_AWAY = 12
"""After so many times the pause between two looks, as after a start or a sleep of the machine, looking begins anew."""


class Looks:
    """The sources of a site and what they have found so far. Used by the evaluation alone.

    `looked_ms`: when each source was asked last in a step that was stored. Without it nobody has looked yet, and what
    is stored of conditions that had only begun says nothing of the time since.
    """

    def __init__(
        self,
        site: Site,
        sources: Sequence[Source],
        stored: Mapping[str, str],
        looked_ms: Mapping[int, int] = MappingProxyType({}),
    ) -> None:
        self._sources = sources
        self._somewhere = frozenset((*Places(site).all, ROOM, ""))
        self._looked_ms = dict(looked_ms)
        self._failing: set[int] = set()
        ours = {name.removeprefix(ROW): text for name, text in stored.items() if name.startswith(ROW) and text}
        self._rows = {f"{ROW}{name}": text for name, text in ours.items()}
        self._watch = StandingWatch({kind: tuned(kind, site.alarms) for kind in AlarmKind}, ours)
        for problem in self._watch.problems:
            log.error("A condition starts anew: %s", problem)

    @property
    def failing(self) -> tuple[str, ...]:
        """A sentence for each source whose last look failed."""
        return tuple(
            f"Alarms of these kinds are not looked for, by a fault in the program (see its log): {_names(one)}."
            for number, one in enumerate(self._sources)
            if number in self._failing
        )

    @property
    def looked_ms(self) -> Mapping[int, int]:
        """When each source was asked last, for one that goes on from what is stored."""
        return dict(self._looked_ms)

    def is_on(self, kind: AlarmKind, subject: str) -> bool:
        """True between the raising and the clearing of an alarm."""
        return self._watch.is_on(kind, subject)

    def on(self) -> list[Transition]:
        """Every alarm that is on, as it was raised."""
        return self._watch.on()

    def adopt(self, raised: Transition) -> bool:
        """Take over an alarm that people know to be on; False where no source looks at its kind."""
        if not any(raised.kind in source.kinds for source in self._sources):
            return False
        self._watch.adopt(raised)
        return True

    def look(self, moment: Moment) -> list[Transition]:
        """Ask the sources whose time has come. One that fails changes nothing and holds no other up."""
        transitions: list[Transition] = []
        if moment.set_by_ms:
            self._watch.clock_was_set(moment.set_by_ms)
            self._looked_ms = {number: at_ms + moment.set_by_ms for number, at_ms in self._looked_ms.items()}
        for number, source in enumerate(self._sources):
            last_ms = self._looked_ms.get(number)
            if last_ms is not None and 0 <= moment.now_ms - last_ms < source.every_ms:
                continue
            if last_ms is None or moment.now_ms - last_ms > LOOKED_AWAY * source.every_ms:
                self._watch.forget_begun(source.kinds)
            self._looked_ms[number] = moment.now_ms
            try:
                # A clutch may be on record at a place that is gone from the site file: nobody could be sent there.
                found = [each for each in source.found(moment) if each.place in self._somewhere]
                transitions += self._watch.look(source.kinds, found, moment.now_ms)
            except Exception:
                # The alarms of readings must not fall with it.
                if number not in self._failing:
                    log.exception("A look for %s failed; it is tried again.", _names(source))
                self._failing.add(number)
            else:
                self._failing.discard(number)
        return transitions

    def take_changed(self) -> dict[str, str]:
        """What has changed since the last call, as the journal keeps it; empty text where a condition is over."""
        rows = {f"{ROW}{name}": text for name, text in self._watch.to_rows().items()}
        changed = {name: text for name, text in rows.items() if self._rows.get(name) != text}
        changed |= dict.fromkeys(self._rows.keys() - rows.keys(), "")
        self._rows = rows
        return changed


def _names(source: Source) -> str:
    return ", ".join(sorted(source.kinds))
