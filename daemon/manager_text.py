"""What the service manager shows of the daemon (`systemctl status`): a sentence for whoever keeps the machine. Pure.

Every user of the machine may read it, so it names the site and figures, and neither people, addresses nor animals.
"""

from daemon.overview import Overview

_MS_PER_S = 1000
_LONG_S = 120


def status_sentence(overview: Overview) -> str:
    """Say how the watch stands at one moment: channels, age of the newest reading, alarms, whether all is well."""
    channels = [channel for place in overview.watched for channel in place.channels]
    heard = [channel.measured_at_ms for channel in channels if channel.measured_at_ms is not None]
    alarms = sum(alarm.is_on for place in overview.watched for alarm in place.alarms)
    parts = [_count(len(channels), "channel", "channels")]
    parts.append(f"last reading {_age(overview.now_ms - max(heard))} ago" if heard else "no reading yet")
    if not overview.broker_connected:
        parts.append("no broker")
    on = _count(alarms, "alarm", "alarms") if alarms else "no alarm"
    sentence = f"{overview.site_name}: {', '.join(parts)}; {on}"
    return f"{sentence}; not well: the first page and the log say why" if overview.troubles else sentence


def _count(number: int, one: str, several: str) -> str:
    return f"{number} {one if number == 1 else several}"


def _age(age_ms: int) -> str:
    seconds = max(0, age_ms) // _MS_PER_S
    return f"{seconds} s" if seconds < _LONG_S else f"{seconds // 60} min"
