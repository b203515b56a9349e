"""Whether the watch works, for a watcher outside. Pure."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from daemon.overview import ChannelNow, Overview
from dashboards import figures
from dashboards.api_values import HealthJson
from dashboards.standing import is_old

_TROUBLE = "The watch has a trouble of its own; its first page says which."
_NOTHING_YET = "No reading has arrived yet."


def health(overview: Overview, *, to_everybody: bool = False) -> HealthJson:
    """Judge the service itself, not the eggs: it has no trouble, a broker is connected and readings arrive.

    A contact that speaks on its battery does not count: nothing is watched by it. `to_everybody`: for somebody who has
    not signed in, who hears that something is wrong and of what kind, and neither names nor addresses.
    """
    heard = [
        (channel.measured_at_ms, channel)
        for incubator in overview.incubators
        for channel in incubator.channels
        if channel.measured_at_ms is not None and not channel.quantity.is_contact
    ]
    newest_ms = max((moment for moment, _ in heard), default=None)
    reasons = [each.open if to_everybody else each.whole for each in _reasons(overview, heard)]
    return HealthJson(
        healthy=not reasons,
        reasons=list(dict.fromkeys(reasons)),
        broker_connected=overview.broker_connected,
        newest_reading_age_s=None if newest_ms is None else (overview.now_ms - newest_ms) / 1000,
    )


class _Reason(NamedTuple):
    """Why the watch is not well: for everybody, and for those who may read it."""

    open: str
    whole: str


def _reasons(overview: Overview, heard: Sequence[tuple[int, ChannelNow]]) -> Iterator[_Reason]:
    for trouble in overview.troubles:
        yield _Reason(_TROUBLE, trouble)
    if not overview.broker_connected:
        detail = f": {overview.broker_detail}" if overview.broker_detail else ""
        yield _Reason("The broker is not connected.", f"The broker is not connected{detail}")
    if not heard:
        yield _Reason(_NOTHING_YET, _NOTHING_YET)
    elif all(is_old(moment, channel.old_after_ms, overview.now_ms) for moment, channel in heard):
        newest = max(heard, key=lambda pair: pair[0])[1]
        yield _Reason("No channel has a fresh reading.", _silence(newest, overview.now_ms))


def _silence(newest: ChannelNow, now_ms: int) -> str:
    age, fresh = (
        figures.duration(length_ms // 1000).replace(figures.NBSP, " ")
        for length_ms in (now_ms - (newest.measured_at_ms or 0), newest.old_after_ms)
    )
    return f"No channel has a fresh reading: the newest, of {newest.channel}, is {age} old and counts for {fresh}."
