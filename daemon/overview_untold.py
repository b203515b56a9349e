"""Pure: the alarms that nobody is told of at present, with who wanted that, why, and until when."""

from collections.abc import Iterable, Iterator

from config.places import Places
from config.site import Site
from daemon.alarm_desk_values import Entry
from daemon.alarms.definitions import tuned
from daemon.alarms.probe_kinds import of_probe
from daemon.alarms.state_values import Shown
from daemon.alarms.wrong import WRONG
from daemon.answer_values import person_name
from daemon.overview import Untold


class UntoldAlarms:
    """Of one site."""

    def __init__(self, site: Site, places: Places) -> None:
        self._site = site
        self._places = places
        self._names = {person.id: person.name for person in site.people}

    def of(self, entries: Iterable[tuple[str, Entry]]) -> tuple[Untold, ...]:
        """Give one value for each reason of each, what people silenced first, then the most urgent."""
        found = [each for key, entry in entries for each in self._untold(key, entry)]
        return tuple(sorted(found, key=lambda each: (each.mode != "", each.priority, each.key)))

    def _untold(self, key: str, entry: Entry) -> Iterator[Untold]:
        state, raised = entry.state, entry.raised
        if not state.is_suppressed:
            return
        quantity = None if raised.channel is None else raised.channel.quantity
        priority = of_probe(tuned(raised.kind, self._site.alarms), raised.place, quantity).priority
        place = self._places.name(raised.place) if raised.place else self._site.name
        name = f"{place}: {f'{raised.about} ' if raised.about else ''}{WRONG[raised.kind]}"
        out, shelf = state.out, state.shelf
        if out is not None:
            who = person_name(self._names, out.who)
            yield Untold(key, raised.kind, priority, name, Shown.OUT_OF_SERVICE, out.review_ms, who, out.reason)
        if shelf is not None:
            who = person_name(self._names, shelf.who)
            yield Untold(key, raised.kind, priority, name, Shown.SHELVED, shelf.until_ms, who, shelf.reason)
        for each in state.design:
            if not each.spent:
                by_design, mode = Shown.SUPPRESSED_BY_DESIGN, each.mode.value
                yield Untold(key, raised.kind, priority, name, by_design, each.ends_ms, mode=mode)
