"""Which journals write to a mirror, under which names of sites, and what of that a keeper has to know.

Each point carries the identity of its journal, so that two sites of one name do not write over one another. Whoever
looks at them by name still sees both as one; that is told here. So is a journal that writes under two names.
"""

from collections.abc import Iterator
from typing import NamedTuple

from daemon.chain_rules import DAY_MS
from daemon.mirror.points import READING, Origin
from daemon.mirror_query import MirrorReader, Series, text

RECENT_MS = DAY_MS
"""Whoever has written within so long is held to write still. Project choice."""


class Known(NamedTuple):
    """A journal that has readings in the mirror, and when the newest of them came (UTC ms)."""

    origin: Origin
    newest_ms: int


class Trouble(NamedTuple):
    """What is wrong, and what to do about it."""

    reason: str
    hint: str


def under_name(reader: MirrorReader, site: str) -> list[Known]:
    """Give the journals with readings under the name of a site, the newest first. Raises MirrorError."""
    return _known(reader, f'"site" = {text(site)}')


def troubles(reader: MirrorReader, own: Origin, now_ms: int) -> Iterator[Trouble]:
    """Tell of another journal under the same name, and of this one under another. Raises MirrorError.

    Whoever has no journal yet (`own.journal` is empty) hears of every other one under the name.
    """
    for each in under_name(reader, own.site):
        if each.origin.journal != own.journal and now_ms - each.newest_ms < RECENT_MS:
            yield Trouble(
                f'another journal ({each.origin.journal}) writes there too as the site "{own.site}"',
                "Is it another site: give one of the two another name in site.toml. Nothing of either is lost, but"
                " whoever looks by name sees both as one. Is it the journal that this one has replaced: all is well.",
            )
    for each in _known(reader, f'"journal" = {text(own.journal)}') if own.journal else ():
        if each.origin.site != own.site and now_ms - each.newest_ms < RECENT_MS:
            yield Trouble(
                f'this journal is there as the site "{each.origin.site}" too',
                "Was the site given a new name: all is well, what came before stays under the old one. Does a copy of"
                " the journal run as another site: let that one begin with a journal of its own.",
            )


def _known(reader: MirrorReader, which: str) -> list[Known]:
    query = f'SELECT last("received_ms") FROM "{READING}" WHERE {which} GROUP BY "site", "journal"'  # noqa: S608
    found = [Known(_origin(each), int(each.rows[0][each.column("last")])) for each in reader.ask(query)]
    return sorted((each for each in found if each.origin.journal), key=lambda each: -each.newest_ms)


def _origin(series: Series) -> Origin:
    return Origin(series.tags["site"], series.tags["journal"])
