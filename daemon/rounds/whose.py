"""Pure: which stop of a round an entry or a photo is about, where clutches changed places while it went on.

What was seen of a clutch goes with it, wherever it lies by now. What was seen in an empty box stays with that box.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeVar

from daemon.rounds.values import Finding, Photo, Stop

T = TypeVar("T", Finding, Photo)
Whose = int | str
"""The number of a clutch, or the box where none lay in it."""


def whose(thing: Finding | Photo) -> Whose:
    """Give what an entry or a photo is about."""
    box = thing.entry.box if isinstance(thing, Finding) else thing.box
    return box if thing.clutch_id is None else thing.clutch_id


def whose_stop(stop: Stop) -> Whose:
    """Give what lies, or does not lie, at a stop."""
    return stop.key if stop.clutch_id is None else stop.clutch_id


def shared_out(by_box: Mapping[str, Sequence[T]]) -> dict[Whose, list[T]]:
    """Give entries or photos of a round, read by box, by what they are about; in the order in which they came."""
    found: dict[Whose, list[T]] = {}
    for things in by_box.values():
        for each in things:
            found.setdefault(whose(each), []).append(each)
    return found


def gone(stops: Iterable[Stop], about: Iterable[Whose]) -> list[Whose]:
    """Give what entries are about and no stop has any more: a clutch that was taken away, a box that was filled."""
    here = {whose_stop(each) for each in stops}
    return [each for each in dict.fromkeys(about) if each not in here]
