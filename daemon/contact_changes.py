"""Which contact of the site file is which of before: the address says it, not the place in the file. Pure."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple


class Way(NamedTuple):
    """The address of a contact, under a slow hash, and the key that goes with it."""

    key: str
    digest: str


@dataclass(frozen=True, slots=True)
class ContactChanges:
    """What became of the contacts.

    `ways` are those of now. `moved` leads from a contact to the place where its address stands now, `readdressed` have
    another address than before, `ended` are addresses that nobody has any more, by their contact of before.
    """

    ways: Mapping[str, Way]
    moved: Mapping[str, str]
    readdressed: frozenset[str]
    ended: frozenset[str]

    @property
    def are_any(self) -> bool:
        """True where something of before is not as it was."""
        return bool(self.moved or self.readdressed or self.ended)


def contact_changes(
    before: Mapping[str, Way] | None, digests: Mapping[str, str], new_key: Callable[[], str]
) -> ContactChanges:
    """Find each digest of now among those of before; two of different people are never the same.

    `before` is None where nobody has looked yet: then what is kept of a contact is taken for its own.
    """
    left = dict(before or {})
    ways: dict[str, Way] = {}
    moved: dict[str, str] = {}
    for contact, digest in digests.items():
        if contact in left and left[contact].digest == digest:
            ways[contact] = left.pop(contact)
    for contact, digest in digests.items():
        if contact in ways:
            continue
        was = next((each for each, way in sorted(left.items()) if way.digest == digest), None)
        if was is not None:
            ways[contact] = left.pop(was)
            moved[was] = contact
    unknown = [contact for contact in digests if contact not in ways]
    for contact in unknown:
        ways[contact] = Way(contact if before is None else new_key(), digests[contact])
    readdressed = frozenset(left).intersection(unknown)
    return ContactChanges(ways, moved, readdressed, frozenset(left) - readdressed)
