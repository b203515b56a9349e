"""Silence that is more than that of one channel: of a whole site, of an incubator, or for long. Pure. Times are UTC ms.

One silence is told once. While the whole site is silent, its incubators are not told one by one; while nothing in an
incubator is heard any more, neither are its channels. What is on stays on until it is over in its own right.

On missing knowledge nothing begins and nothing ends: after a start of the service a probe gets its time to speak, and
what was silent before has to be heard again. It is back like in `daemon/alarms/silence.py`: by three readings without
a gap, the newest fresh. The times below are project choices.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from itertools import pairwise

from config.words import AlarmKind, Quantity, contact_text
from daemon.alarms.figures import clock_text, duration_text
from daemon.alarms.folding import Heard, silent_together_since
from daemon.alarms.silence import MISSED_INTERVALS, READINGS_BACK
from daemon.standing.found import Found
from sensors.reading import ChannelKey

LONG_MS = 30 * 60_000
"""Silent for so long above eggs: by then a box without heat, or with too much of it, has moved by degrees."""
DECIDED_AFTER_MS = 2 * 60_000
"""So long an incubator that is silent waits for the word of the others, whether the whole site is."""
SITE = "site"


@dataclass(frozen=True, slots=True)
class Voice:
    """What was heard of a channel or a probe.

    `times_ms` are its newest readings, newest first, up to as many as make it speak again; empty where none is known.
    `window_ms`: how long it may be silent. `watched_ms`: since when somebody listens; before that no silence counts.
    """

    times_ms: tuple[int, ...]
    window_ms: int
    watched_ms: int

    @property
    def heard_ms(self) -> int | None:
        """When it was heard last; None where that is not known."""
        return self.times_ms[0] if self.times_ms else None

    @property
    def since_ms(self) -> int:
        """Since when it is silent, as far as that is known."""
        return self.watched_ms if self.heard_ms is None else self.heard_ms

    def is_fresh(self, now_ms: int) -> bool:
        """True where its newest reading is not older than it may be."""
        return self.heard_ms is not None and now_ms - self.heard_ms < self.window_ms

    def is_back(self, now_ms: int) -> bool:
        """True where it speaks again for sure, after a silence."""
        unbroken = all(later - earlier <= self.window_ms for later, earlier in pairwise(self.times_ms))
        return self.is_fresh(now_ms) and unbroken and len(self.times_ms) >= READINGS_BACK

    def is_silent(self, now_ms: int) -> bool:
        """True where somebody has listened for long enough and heard nothing."""
        return now_ms - max(self.since_ms, self.watched_ms) >= self.window_ms


def site_silent(
    probes: Sequence[Voice], mains: float | None, now_ms: int, zone: tzinfo, *, is_on: bool
) -> Found | None:
    """Whether all probes of a site fell silent together; to be asked where eggs lie anywhere in it.

    `probes` are those that measure something, by readings of any quality: a faulty probe proves that power and network
    are there. Those that had been silent for long when the others stopped say nothing and do not count; together takes
    two. `mains` is what a contact of the mains says just now.
    """
    if _speaks(probes, now_ms, is_on=is_on):
        return None
    known = not any(each.is_fresh(now_ms) for each in probes) and all(each.is_silent(now_ms) for each in probes)
    if not known:
        return Found(AlarmKind.SITE_SILENT, SITE, "it is not known yet whether the probes are back", known=False)
    heard = [(each.heard_ms, each.window_ms) for each in probes if each.heard_ms is not None]
    last_ms = max((at_ms for at_ms, _ in heard), default=None)
    longest_ms = max((window_ms for _, window_ms in heard), default=0)
    together = [Heard(at_ms, window_ms) for at_ms, window_ms in heard if at_ms >= (last_ms or 0) - longest_ms]
    since_ms = silent_together_since(together, now_ms)
    if since_ms is None and not is_on:
        return None
    reason = f"{_last(last_ms, now_ms, zone)}; {_likely(mains)}"
    return Found(AlarmKind.SITE_SILENT, SITE, reason, since_ms=last_ms if since_ms is None else since_ms)


def last_probe_silent(
    incubator: str,
    own: Sequence[Voice],
    others: Sequence[Voice],
    now_ms: int,
    zone: tzinfo,
    *,
    site_is_silent: bool,
    is_on: bool,
) -> Found | None:
    """Whether no air temperature is heard any more from an incubator with eggs, while others still speak.

    `own` are its air temperature channels, by good readings; `others` the probes elsewhere in the site, by any. It
    waits until one of these was heard after the time at which its own should have been, which shows that it is this
    incubator alone; but not for longer than a short while.
    """
    if not own or _speaks(own, now_ms, is_on=is_on):
        return None
    kind = AlarmKind.LAST_PROBE_SILENT
    if any(each.is_fresh(now_ms) for each in own) or not all(each.is_silent(now_ms) for each in own):
        return Found(kind, incubator, "it is not known yet whether a probe is back", incubator, known=False)
    if not is_on and (site_is_silent or _undecided(own, others, now_ms)):
        return None
    heard_ms = _heard_last_ms(own)
    who = "its only thermometer is silent" if len(own) == 1 else f"all its {len(own)} thermometers are silent"
    reason = f"{who}; {_last(heard_ms, now_ms, zone)}"
    since_ms = min(each.watched_ms for each in own) if heard_ms is None else heard_ms
    return Found(kind, incubator, reason, incubator, since_ms=min(now_ms, since_ms))


def no_data_long(
    key: ChannelKey,
    place: str,
    voice: Voice,
    eggs_since_ms: int,
    now_ms: int,
    zone: tzinfo,
    *,
    is_told: bool,
    is_on: bool,
) -> Found | None:
    """Whether an air temperature channel above eggs has been silent for long.

    Only silence above eggs counts, from `eggs_since_ms` on. `is_told`: a more urgent word about the same silence, that
    of the incubator or of the site, is out.
    """
    if _speaks((voice,), now_ms, is_on=is_on):
        return None
    kind = AlarmKind.NO_DATA_LONG
    if not voice.is_silent(now_ms):
        return Found(kind, key.channel, "it is not known yet whether it is back", place, channel=key, known=False)
    is_long = now_ms - max(voice.since_ms, eggs_since_ms) >= LONG_MS
    if not is_on and (is_told or not is_long):
        return None
    reason = f"{key.channel} is silent; {_last(voice.heard_ms, now_ms, zone)}"
    return Found(kind, key.channel, reason, place, channel=key, since_ms=min(now_ms, voice.since_ms))


def _speaks(voices: Sequence[Voice], now_ms: int, *, is_on: bool) -> bool:
    return any(each.is_back(now_ms) if is_on else each.is_fresh(now_ms) for each in voices) or not voices


def _undecided(own: Sequence[Voice], others: Sequence[Voice], now_ms: int) -> bool:
    """True while it may still turn out that the others fell silent at the same time."""
    heard = [(each.heard_ms, each.window_ms) for each in own if each.heard_ms is not None]
    if not heard or not others:
        return False
    last_ms, window_ms = max(heard)
    due_ms = last_ms + window_ms // MISSED_INTERVALS
    outlived = any(each.heard_ms is not None and each.heard_ms > due_ms for each in others)
    waited_ms = now_ms - max(each.since_ms + each.window_ms for each in own)
    return not outlived and waited_ms < DECIDED_AFTER_MS


def _heard_last_ms(voices: Sequence[Voice]) -> int | None:
    return max((each.heard_ms for each in voices if each.heard_ms is not None), default=None)


def _last(heard_ms: int | None, now_ms: int, zone: tzinfo) -> str:
    if heard_ms is None:
        return "nothing was heard of it lately"
    return f"the last reading was of {clock_text(heard_ms, now_ms, zone)}, {duration_text(now_ms - heard_ms)} ago"


def _likely(mains: float | None) -> str:
    if mains is None:
        return "the mains, the network or the broker is likely"
    said = f"a contact says {contact_text(Quantity.MAINS, mains)}"
    return said if mains == 0 else f"{said}, so the network or the supply of the probes is likely"
