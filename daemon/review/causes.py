"""Pure: why, as far as the journal shows it. Each rule gives a cause with the sentences that speak for it, or None.

The rules are asked in order and the first that answers counts: the mains takes everything with it, the machine takes
the service, the broker takes the probes. A cause has to begin before what it explains. Where no rule answers the cause
is unknown, and the sentences say what is known all the same.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from daemon.review import cause_words as words
from daemon.review.around import Around
from daemon.review.gaps import overlaps
from daemon.review.joining import FAR_MS, SERVICE_DOWN, SLACK_MS, incubator
from daemon.review.values import Cause, Fact, FactKind, Span


class Named(NamedTuple):
    """A cause, and the sentences that speak for it."""

    cause: Cause
    evidence: tuple[str, ...]


Facts = Sequence[Fact]
Rule = Callable[[Facts, Around], Named | None]


def cause_of(facts: Facts, around: Around) -> Named:
    """Name the cause of an incident from its facts, in any order, and from what else the journal shows."""
    ordered = sorted(facts, key=lambda fact: (fact.span.from_ms, fact.kind, fact.subject))
    named = next((found for rule in RULES if (found := rule(ordered, around)) is not None), None)
    if named is None:
        outside = [fact for fact in ordered if fact.kind is FactKind.EXCURSION]
        named = Named(Cause.UNKNOWN, (words.NOTHING_SHOWS, *(_mains_known(outside, around) if outside else ())))
    more = [*_unheard(ordered, around), *_late(ordered, around), *_remarks(ordered, around)]
    return Named(named.cause, tuple(dict.fromkeys((*named.evidence, *more))))


def span_of(facts: Facts) -> Span:
    """Give the time from the first begin to the last end; not over where one of them is not."""
    ends = [fact.span.to_ms for fact in facts]
    known = [end for end in ends if end is not None]
    return Span(min(fact.span.from_ms for fact in facts), max(known) if len(known) == len(ends) else None)


def mains(facts: Facts, _around: Around) -> Named | None:
    """A contact says that the mains was gone."""
    lost = _of(facts, FactKind.MAINS_ABSENT)
    if not lost or not _leads(lost, facts):
        return None
    evidence = [fact.words for fact in lost]
    restarted = _of(facts, FactKind.MACHINE_RESTARTED)
    if restarted:
        evidence += [fact.words for fact in restarted]
        evidence.append(words.MACHINE_WITHOUT_POWER)
    return Named(Cause.MAINS_LOST, tuple(evidence))


def clock(facts: Facts, _around: Around) -> Named | None:
    """The clock was set, and what looks like a gap is time that never passed, or passed twice."""
    steps = _of(facts, FactKind.CLOCK_STEP)
    others = [fact for fact in facts if fact.kind in SERVICE_DOWN | {FactKind.BROKER_LOST}]
    if not steps or others or not _leads(steps, facts):
        return None
    evidence = [fact.words for fact in steps]
    if _of(facts, FactKind.PROBE_GAP):
        evidence.append(words.TIME_THAT_NEVER_PASSED)
    return Named(Cause.CLOCK_SET, tuple(evidence))


def machine(facts: Facts, around: Around) -> Named | None:
    """The service ended without a word, and the machine was started anew."""
    return _down(facts, around, FactKind.MACHINE_RESTARTED, Cause.MACHINE_OFF)


def slept(facts: Facts, around: Around) -> Named | None:
    """The machine was suspended: that is somebody's setting, and can be switched off."""
    named = _down(facts, around, FactKind.MACHINE_SLEPT, Cause.MACHINE_SLEPT)
    return None if named is None else Named(named.cause, (*named.evidence, words.NO_SLEEP))


def cut_off(facts: Facts, around: Around) -> Named | None:
    """The service ended without a word."""
    return _down(facts, around, FactKind.SERVICE_CUT_OFF, Cause.SERVICE_CUT_OFF)


def stopped(facts: Facts, around: Around) -> Named | None:
    """The service was ended in good order."""
    return _down(facts, around, FactKind.SERVICE_STOPPED, Cause.SERVICE_STOPPED)


def broker(facts: Facts, around: Around) -> Named | None:
    """The broker was lost."""
    lost = _of(facts, FactKind.BROKER_LOST)
    if not lost or not _leads(lost, facts):
        return None
    evidence = [fact.words for fact in lost]
    if _of(facts, FactKind.SITE_GAP) or _of(facts, FactKind.PROBE_GAP):
        evidence.append(words.PROBES_BEHIND_BROKER)
    return Named(Cause.BROKER_LOST, (*evidence, *_mains_known(facts, around)))


def fault(facts: Facts, _around: Around) -> Named | None:
    """Readings that cannot be true; what else is told here comes from the same channels."""
    faults = _of(facts, FactKind.PROBE_FAULT)
    subjects = {fact.subject for fact in faults}
    others = [fact for fact in facts if fact.kind not in (FactKind.PROBE_FAULT, FactKind.DELIVERY_FAILED)]
    if not faults or any(fact.subject not in subjects for fact in others):
        return None
    return Named(Cause.PROBE_FAULT, tuple(fact.words for fact in faults))


def silent(facts: Facts, around: Around) -> Named | None:
    """Some channels said nothing while others spoke and the service listened."""
    gaps = _of(facts, FactKind.PROBE_GAP)
    strange = [fact for fact in facts if fact.kind in SERVICE_DOWN | {FactKind.SITE_GAP, FactKind.BROKER_LOST}]
    if not gaps or strange or any(fact.span.from_ms < gaps[0].span.from_ms for fact in facts):
        return None
    silent_channels = {fact.subject for fact in gaps}
    longest = max(gaps, key=lambda fact: fact.span.until(FAR_MS) - fact.span.from_ms)
    others = [each.channel for each in around.heard_during(longest.span) if each.channel not in silent_channels]
    if not others:
        return None
    probes = sorted({channel.split("/", 1)[0] for channel in silent_channels})
    return Named(Cause.PROBE_SILENT, (words.others_spoke(probes, others), *_mains_known(facts, around)))


def delivery(facts: Facts, _around: Around) -> Named | None:
    """Nothing but calls that reached nobody."""
    if any(fact.kind is not FactKind.DELIVERY_FAILED for fact in facts):
        return None
    return Named(Cause.DELIVERY, tuple(fact.words for fact in facts))


def heating(facts: Facts, around: Around) -> Named | None:
    """A temperature out of range, with the mains there and every probe of the place heard all along."""
    outside = _of(facts, FactKind.EXCURSION)
    if not outside or any(fact.kind not in (FactKind.EXCURSION, FactKind.DELIVERY_FAILED) for fact in facts):
        return None
    warm = {each.channel for each in around.sources if each.quantity.is_temperature}
    contacts = around.mains_of(fact.place for fact in outside)
    span = span_of(outside)
    if not any(fact.subject in warm for fact in outside) or not contacts:
        return None
    here = {incubator(fact.place) for fact in outside}
    channels = [each.channel for each in around.sources if incubator(each.place) in here]
    channels += [each.channel for each in contacts]
    if not all(around.spoke_all_along(channel, span) for channel in channels):
        return None
    return Named(Cause.HEATING, (words.mains_present([each.channel for each in contacts]), words.ALL_PROBES_THERE))


RULES: tuple[Rule, ...] = (mains, clock, machine, slept, cut_off, stopped, broker, fault, silent, delivery, heating)


def _down(facts: Facts, around: Around, kind: FactKind, cause: Cause) -> Named | None:
    down = _of(facts, kind)
    if not down or not _leads(down, facts):
        return None
    known = () if cause is Cause.SERVICE_STOPPED else _mains_known(facts, around)
    return Named(cause, (*(fact.words for fact in down), *known))


def _leads(causes: Facts, facts: Facts) -> bool:
    """A cause that begins later than what it is to explain explains it not."""
    return min(fact.span.from_ms for fact in causes) <= facts[0].span.from_ms + SLACK_MS


def _of(facts: Facts, kind: FactKind) -> list[Fact]:
    return [fact for fact in facts if fact.kind is kind]


def _mains_known(facts: Facts, around: Around) -> tuple[str, ...]:
    """What the contacts of the mains say of the time, where none of them says that it was gone."""
    contacts = around.mains_of(fact.place for fact in facts)
    if not contacts:
        return (words.NO_MAINS_CONTACT,)
    span = span_of(facts)
    spoke = [each.channel for each in contacts if around.spoke_all_along(each.channel, span)]
    return (words.mains_present(spoke),) if spoke else (words.mains_not_heard([each.channel for each in contacts]),)


def _unheard(facts: Facts, around: Around) -> list[str]:
    """What nobody can tell of a gap: the service did not run, or ran and heard nobody."""
    gaps = _of(facts, FactKind.PROBE_GAP)
    down = [fact for fact in facts if fact.kind in SERVICE_DOWN]
    if down and gaps:
        ends = [fact.span.to_ms for fact in down if fact.span.to_ms is not None]
        if any(gap.late for gap in around.gaps_of(gaps)):
            return []
        longer = [fact.subject for fact in gaps if ends and fact.span.until(FAR_MS) > max(ends) + SLACK_MS]
        return [words.outlasted(sorted(longer))] if longer else [words.NOBODY_LISTENED]
    if _of(facts, FactKind.SITE_GAP) and not any(
        fact.kind in (FactKind.BROKER_LOST, FactKind.MAINS_ABSENT) for fact in facts
    ):
        return [words.SERVICE_LISTENED, *_mains_known(facts, around)]
    return []


def _late(facts: Facts, around: Around) -> list[str]:
    gaps = around.gaps_of(facts)
    whole = sorted(gap.channel for gap in gaps if gap.late is not None and gap.late.whole)
    parts = sorted(gap.channel for gap in gaps if gap.late is not None and not gap.late.whole)
    found = [words.came_later(whole, of=len(gaps))] if whole else []
    return [*found, words.came_in_part(parts)] if parts else found


def _remarks(facts: Facts, around: Around) -> list[str]:
    span, places = span_of(facts), {incubator(fact.place) for fact in facts}
    return [
        remark.words
        for remark in around.remarks
        if overlaps(remark.span, span) and (not incubator(remark.place) or incubator(remark.place) in places)
    ]
