"""Whether the watch works, for a watcher outside. Pure."""

from daemon.overview import ChannelNow, Overview
from dashboards import figures
from dashboards.api import HealthJson
from dashboards.standing import is_old


def health(overview: Overview) -> HealthJson:
    """Judge the service itself, not the eggs: it has no trouble, a broker is connected and readings arrive.

    A contact that speaks on its battery does not count: nothing is watched by it.
    """
    heard = [
        (channel.measured_at_ms, channel)
        for incubator in overview.incubators
        for channel in incubator.channels
        if channel.measured_at_ms is not None and not channel.quantity.is_contact
    ]
    newest_ms = max((moment for moment, _ in heard), default=None)
    reasons = list(overview.troubles)
    if not overview.broker_connected:
        detail = f": {overview.broker_detail}" if overview.broker_detail else ""
        reasons.append(f"The broker is not connected{detail}")
    if not heard:
        reasons.append("No reading has arrived yet.")
    elif all(is_old(moment, channel.old_after_ms, overview.now_ms) for moment, channel in heard):
        reasons.append(_silence(max(heard, key=lambda pair: pair[0])[1], overview.now_ms))
    return HealthJson(
        healthy=not reasons,
        reasons=reasons,
        broker_connected=overview.broker_connected,
        newest_reading_age_s=None if newest_ms is None else (overview.now_ms - newest_ms) / 1000,
    )


def _silence(newest: ChannelNow, now_ms: int) -> str:
    age, fresh = (
        figures.duration(length_ms // 1000).replace(figures.NBSP, " ")
        for length_ms in (now_ms - (newest.measured_at_ms or 0), newest.old_after_ms)
    )
    return f"No channel has a fresh reading: the newest, of {newest.channel}, is {age} old and counts for {fresh}."
