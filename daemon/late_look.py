"""A look back through late readings that is done in slices, and where it stands. Pure.

What a look finds depends on what was stored before it began and on nothing that comes meanwhile: neither on how many
slices it takes, nor on when they are done.
"""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from typing import Any, NamedTuple

from daemon.late_gathering import Excursion, Gathering, excursions_of, gathering_of

MOST_OF_ONE = 20
"""So many excursions of one kind and channel are kept for the message; all are on record. Project choice."""


class Stretch(NamedTuple):
    """Readings of a channel, from the first late one to the last. UTC ms."""

    channel: str
    low_ms: int
    high_ms: int


class Position(NamedTuple):
    """How far a stretch is looked through: until which reading, and what is remembered there.

    `limits`: what each alarm that is on was raised by, in the unit of the channel, by its kind.
    """

    after_ms: int
    memory: str
    limits: dict[str, float]


@dataclass(slots=True)
class Look:
    """What is left of a look. `due_ms`: when what was gathered was to be told; `first_ms`, `last_ms`: arrivals.

    Nothing that was stored after the reading `until_seq` or the event `last_event` is known to it. `told` and `ended`
    (by occurrence, UTC ms) are what the step in which it began knew beside that, and what looks before it have found
    since; `newest_ms` the newest reading of each channel then. `here` was found in the first stretch, where another one
    of the channel follows, in which it may be seen again. `found` waits to be told, `more` is how many others are not
    among it. `waits_since_ms`: since when people wait for the rest of it; 0 before anybody does.
    """

    first_ms: int
    last_ms: int
    due_ms: int
    until_seq: int
    last_event: int
    stretches: list[Stretch]
    told: list[Excursion]
    ended: dict[str, int]
    newest_ms: dict[str, int]
    found: list[Excursion] = field(default_factory=list)
    more: int = 0
    position: Position | None = None
    here: list[Excursion] = field(default_factory=list)
    waits_since_ms: int = 0

    def keep(self, excursion: Excursion) -> None:
        """Let it be told; of too many of one kind and channel the mildest is not."""
        self.found.append(excursion)
        same = [one for one in self.found if (one.kind, one.channel) == (excursion.kind, excursion.channel)]
        if len(same) > MOST_OF_ONE:
            self.found.remove(min(same, key=lambda one: abs(one.worst - one.limit)))
            self.more += 1

    def next_stretch(self) -> None:
        """The first stretch is looked through."""
        del self.stretches[0]
        self.position = None
        self.told += self.here
        self.here = []

    def note(self, excursions: Iterable[Excursion]) -> None:
        """An earlier look has found these: they are not told again."""
        channels = {each.channel for each in self.stretches}
        self.told += [each for each in excursions if each.channel in channels]


def to_json(gathering: Gathering | None, looks: list[Look]) -> str:
    """One line of JSON; empty where there is nothing to keep."""
    if gathering is None and not looks:
        return ""
    gathered = None if gathering is None else gathering.to_fields()
    return json.dumps({"gathering": gathered, "looks": [asdict(look) for look in looks]}, separators=(",", ":"))


def from_json(text: str) -> tuple[Gathering | None, list[Look]]:
    """Give what `to_json` wrote, or what an earlier version did. Raises ValueError where it is not such a text."""
    if not text:
        return None, []
    try:
        found = json.loads(text)
        if "looks" not in found:
            return gathering_of(found), []
        gathered = found["gathering"]
        return None if gathered is None else gathering_of(gathered), [_look_of(look) for look in found["looks"]]
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"late readings that were gathered: {error}") from error


def _look_of(found: Any) -> Look:
    look = Look(**found)
    look.stretches = [Stretch(*each) for each in look.stretches]
    look.told, look.found, look.here = (excursions_of(each) for each in (look.told, look.found, look.here))
    look.position = None if look.position is None else Position(*look.position)
    return look
