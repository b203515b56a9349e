"""The one-sentence answer at the head of the page. Pure.

What is wrong comes first: alarms by priority, then troubles of the service itself, then a lost broker, then readings
that are outside their limits without being an alarm yet, then clutches that do not suit each other, then water that
settles, then readings that cannot be trusted. Only where nothing of this holds is all well.
"""

from dataclasses import dataclass
from typing import NamedTuple

from daemon.overview import ChannelNow, IncubatorNow, Overview
from dashboards import figures
from dashboards.alarms import alarm_mark, headline, ranked, seen_to
from dashboards.places import full_name, incubator_key, place_key
from dashboards.standing import (
    CONFLICT_MARK,
    OUTSIDE,
    WATER_MARK,
    Mark,
    Shape,
    Standing,
    Tone,
    standing,
    standing_mark,
    water_settles,
)

LOOK = "Look"

_UNKNOWN: dict[Standing, tuple[str, Shape]] = {
    Standing.NO_READING: ("without a reading", Shape.GAP),
    Standing.SUSPECT: ("with a suspect reading", Shape.FAULT),
    Standing.OLD: ("with an old reading", Shape.GAP),
}
"""What the banner says of channels that cannot be trusted; the worst first."""


@dataclass(frozen=True, slots=True)
class Banner:
    """The answer, with the mark that goes with it and what else is wrong.

    The heading has no full stop, each line has one. `target` is the id on the page of the place that the heading
    speaks of, empty where it speaks of none.
    """

    mark: Mark
    heading: str
    target: str
    lines: tuple[str, ...]


class _Trouble(NamedTuple):
    mark: Mark
    text: str
    target: str = ""


def verdict(overview: Overview) -> Banner:
    """Answer "is all well?" from everything on the page."""
    troubles = [
        *_alarm_troubles(overview),
        *_service_troubles(overview),
        *_broker_troubles(overview),
        *_outside_troubles(overview),
        *_conflict_troubles(overview),
        *_water_troubles(overview),
        *_unknown_troubles(overview),
    ]
    if not troubles:
        return _nothing_wrong(overview)
    first, *others = troubles
    lines = tuple(f"{other.text.removesuffix('.')}." for other in others)
    return Banner(first.mark, first.text.removesuffix("."), first.target, lines)


def _alarm_troubles(overview: Overview) -> list[_Trouble]:
    alarms = ranked(overview.watched)
    if not alarms:
        return []
    incubator, alarm = alarms[0]
    found = [_Trouble(alarm_mark(alarm), headline(incubator, alarm), place_key(alarm.place))]
    if seen_to(alarm):
        found.append(_Trouble(found[0].mark, f"{seen_to(alarm)}; it is not over"))
    more = len(alarms) - 1
    if more:
        waiting = sum(each.is_on and each.waits for _, each in alarms[1:]) if seen_to(alarm) else 0
        unseen = f"; nobody has acknowledged {waiting} of them" if waiting else ""
        found.append(_Trouble(found[0].mark, f"{more} more alarm{'s' if more > 1 else ''} below{unseen}"))
    return found


def _service_troubles(overview: Overview) -> list[_Trouble]:
    return [_Trouble(Mark(Shape.FAULT, LOOK, Tone.CRITICAL), sentence) for sentence in overview.troubles]


def _broker_troubles(overview: Overview) -> list[_Trouble]:
    if overview.broker_connected:
        return []
    mark = Mark(Shape.GAP, "Broker lost", Tone.UNKNOWN)
    lost = _Trouble(mark, "The broker is lost: no new readings reach this page")
    return [lost, _Trouble(mark, overview.broker_detail)] if overview.broker_detail else [lost]


def _conflict_troubles(overview: Overview) -> list[_Trouble]:
    """One line; which clutches, and why, is told beside the incubator."""
    found = [incubator for incubator in overview.incubators if incubator.conflicts]
    if not found:
        return []
    named = _named([incubator.name for incubator in found])
    text = f"{named}: clutches lie together that do not suit each other"
    return [_Trouble(CONFLICT_MARK._replace(word=LOOK), text, incubator_key(found[0]))]


def _water_troubles(overview: Overview) -> list[_Trouble]:
    found = [
        (incubator, climate.place)
        for incubator in overview.incubators
        for climate in incubator.climates
        if water_settles(climate, overview.now_ms)
    ]
    if not found:
        return []
    text = f"Water settles in {_named([full_name(*pair) for pair in found])}"
    return [_Trouble(WATER_MARK._replace(word=LOOK), text, place_key(found[0][1]))]


def _unalarmed(overview: Overview) -> list[tuple[IncubatorNow, ChannelNow]]:
    """Every channel that no alarm speaks for already."""
    return [
        (incubator, channel)
        for incubator in overview.watched
        for channel in incubator.channels
        if channel.channel not in {alarm.channel for alarm in incubator.alarms if alarm.is_on}
    ]


def _outside_troubles(overview: Overview) -> list[_Trouble]:
    """One line for each way to be outside the limits, the worst first."""
    found: dict[Mark, list[tuple[IncubatorNow, ChannelNow]]] = {}
    pairs = [(standing(pair[1], overview), pair) for pair in _unalarmed(overview)]
    for judged, pair in sorted(pairs, key=lambda each: -each[0]):
        if judged in OUTSIDE:
            found.setdefault(standing_mark(judged, pair[1].quantity), []).append(pair)
    return [
        _trouble_of(mark._replace(word=LOOK), of_mark, f"{mark.word}, no alarm yet") for mark, of_mark in found.items()
    ]


def _unknown_troubles(overview: Overview) -> list[_Trouble]:
    """One line for each reason not to trust a reading, the worst first."""
    found: dict[Standing, list[tuple[IncubatorNow, ChannelNow]]] = {}
    for pair in _unalarmed(overview):
        found.setdefault(standing(pair[1], overview), []).append(pair)
    return [
        _trouble_of(Mark(shape, LOOK, Tone.UNKNOWN), found[judged], words)
        for judged, (words, shape) in _UNKNOWN.items()
        if judged in found
    ]


def _trouble_of(mark: Mark, pairs: list[tuple[IncubatorNow, ChannelNow]], words: str) -> _Trouble:
    named = _named([full_name(incubator, channel.place) for incubator, channel in pairs])
    return _Trouble(mark, f"{named}: {words}", place_key(pairs[0][1].place))


def _named(names: list[str]) -> str:
    different = list(dict.fromkeys(names))
    return different[0] if len(different) == 1 else f"{different[0]} and {len(different) - 1} more"


def _nothing_wrong(overview: Overview) -> Banner:
    channels: list[ChannelNow] = [channel for incubator in overview.incubators for channel in incubator.channels]
    if not channels:
        missing = "probe" if overview.incubators else "incubator"
        plain = Mark(Shape.RING, "Nothing watched", Tone.PLAIN)
        todo = "Take one up under Set-up, Probes." if overview.incubators else "Add an incubator to site.toml."
        return Banner(plain, f"No {missing} is set up yet", "", (todo,))
    oldest = min(channel.measured_at_ms or 0 for channel in channels)
    count = f"{len(channels)} channel{'s' if len(channels) > 1 else ''}"
    line = f"{count}, oldest reading {figures.age(overview.now_ms, oldest)}."
    if all(standing(channel, overview) is Standing.NO_LIMITS for channel in channels):
        return Banner(
            Mark(Shape.RING, "No limits", Tone.PLAIN),
            "Readings arrive, but no limits are watched",
            "",
            ("Limits come from the clutches. Enter those that lie here; none lies in a place with a probe yet.", line),
        )
    return Banner(Mark(Shape.EGG, "In range", Tone.WELL), "All incubators are in range", "", (line,))
