"""Pure: what to do now, the most dangerous first, each with its source; and what this account cannot tell."""

from collections.abc import Iterator, Sequence

from daemon.review.account import Blind, ClutchAccount, Fate, PlaceAccount, ToDo, ToldLine
from daemon.review.cause_words import NO_MAINS_CONTACT
from daemon.review.course import GapKind
from daemon.review.telling import ABOUT_95, counted, listed
from daemon.review.values import Fact, FactKind, Incident, Verdict
from daemon.rounds.cautions import PRACTICE

RECORD = "from the record"
_MOST_LABELS = 6


def todo_of(
    incident: Incident | None,
    facts: Sequence[Fact],
    clutches: Sequence[ClutchAccount],
    told: Sequence[ToldLine],
    overdue: Sequence[str],
    is_reviewed: bool,
) -> tuple[ToDo, ...]:
    """Give what to do now. `overdue`: channels whose calibration is; `is_reviewed`: the outcome is written."""
    found = [*_still_on(facts), *_for_clutches(clutches), *_for_house(facts, told, overdue)]
    if incident is not None and incident.needs_review and not is_reviewed:
        text = "Write down the cause as you found it, what was done, what came of it, and what prevents it next time."
        found.append(ToDo(text, "", PRACTICE))
    return tuple(sorted(found, key=lambda each: not each.first))


def _still_on(facts: Sequence[Fact]) -> Iterator[ToDo]:
    kinds = {fact.kind for fact in facts if fact.span.to_ms is None}
    if FactKind.MAINS_ABSENT in kinds:
        yield ToDo("There is no mains now: keep the incubators shut, and see to the supply.", "", PRACTICE)
    if FactKind.SITE_GAP in kinds:
        yield ToDo("No probe is heard now: go and read the incubators themselves.", "", PRACTICE)
    silent = sorted({fact.subject for fact in facts if fact.kind is FactKind.PROBE_GAP and fact.span.to_ms is None})
    if silent and FactKind.SITE_GAP not in kinds:
        yield ToDo(f"{listed(silent)} is silent still: see to its power and its way here.", "", RECORD)
    outside = sorted({fact.subject for fact in facts if fact.kind is FactKind.EXCURSION and fact.span.to_ms is None})
    if outside:
        yield ToDo(f"Out of range still by {listed(outside)}: go and look.", "", RECORD)


def _for_clutches(clutches: Sequence[ClutchAccount]) -> Iterator[ToDo]:
    """What is the same for several clutches is told once, with all of their labels; in the order of urgency."""
    about: dict[tuple[str, str, bool], list[str]] = {}
    for each in clutches:
        for one in each.advice:
            about.setdefault((one.text, one.source, one.first), []).append(each.review.label)
    for (text, source, first), labels in about.items():
        yield ToDo(text, listed(list(dict.fromkeys(labels)), most=_MOST_LABELS), source, first)


def _for_house(facts: Sequence[Fact], told: Sequence[ToldLine], overdue: Sequence[str]) -> Iterator[ToDo]:
    unreached = sorted({line.who for line in told if line.called and line.fate in (Fate.GIVEN_UP, Fate.WAITING)})
    if unreached:
        text = f"A call to {listed(unreached)} did not get through: send a test, and mend the address or the receiver."
        yield ToDo(text, "", RECORD)
    if any(fact.kind is FactKind.PROBE_FAULT for fact in facts):
        faulty = sorted({fact.subject for fact in facts if fact.kind is FactKind.PROBE_FAULT})
        yield ToDo(f"Compare {listed(faulty)} with a second thermometer, and change it if they differ.", "", PRACTICE)
    if overdue:
        yield ToDo(f"Calibrate {listed(overdue)}: the date is past.", "", RECORD)


def not_known(
    incident: Incident | None,
    facts: Sequence[Fact],
    places: Sequence[PlaceAccount],
    clutches: Sequence[ClutchAccount],
    told: Sequence[ToldLine],
    blind: Blind,
    overdue: Sequence[str],
    uncalibrated: Sequence[str],
    until_ms: int,
) -> tuple[str, ...]:
    """Give what this account does not know, and what it takes for granted. `until_ms`: the end of its period."""
    return (
        *_cause(incident),
        *_cut(incident, until_ms),
        *_time(facts),
        *_places(places),
        *_clutches(clutches),
        *_messages(told, blind),
        *_probes(overdue, uncalibrated),
    )


def _cause(incident: Incident | None) -> Iterator[str]:
    if incident is None:
        return
    yield (
        "The cause is what the journal shows, not what somebody found at the place; what the keeper writes stands "
        "beside it."
    )
    if NO_MAINS_CONTACT in incident.evidence:
        yield NO_MAINS_CONTACT


def _cut(incident: Incident | None, until_ms: int) -> Iterator[str]:
    if incident is not None and incident.span.to_ms is not None and incident.span.to_ms > until_ms:
        yield "This incident lasted longer than what is looked at here; give --since and --until for the rest of it."


def _time(facts: Sequence[Fact]) -> Iterator[str]:
    if any(fact.kind is FactKind.CLOCK_STEP for fact in facts):
        yield "The clock of the machine was set in this time, so moments before it may be wrong by as much."


def _places(places: Sequence[PlaceAccount]) -> Iterator[str]:
    gaps = [gap for each in places for gap in each.review.gaps if gap.kind is not GapKind.OTHER_PROBE]
    if gaps:
        yield (
            f"Where nobody measured, temperatures are estimated: each interval holds the truth {ABOUT_95}, and a door "
            "that was opened and shut again meanwhile is in none of them."
        )
    if any(gap.contradiction for gap in gaps):
        yield "Some readings after a gap do not fit how this incubator cools and heats; the bounds there are wider."
    warm = [each.review for each in places if any(not one.kind.is_humidity for one in each.review.limits)]
    unknown = [each.name for each in warm if each.temperature_verdict is Verdict.UNKNOWN]
    if unknown:
        yield f"Whether all limits of temperature were kept cannot be told for {listed(unknown)}."
    dry = [each.review.name for each in places if each.review.limits and not each.review.humidity_channel]
    if dry:
        yield f"No probe measures the humidity in {listed(dry)}."
    bare = [each.review.name for each in places if not each.review.own_probe]
    if bare:
        yield f"No probe of their own: {listed(bare)}; a probe around them speaks for them, where there is one."
    if any(each.review.humidity_gaps for each in places):
        yield "Of the humidity in gaps nothing is estimated."


def _clutches(clutches: Sequence[ClutchAccount]) -> Iterator[str]:
    if not clutches:
        return
    yield "Whether an embryo lives, no temperature can tell; only looking at the eggs, or their hatching, shows it."
    bare = [
        each.review.label
        for each in clutches
        if not (each.review.has_published(above=True) or each.review.has_published(above=False))
    ]
    if bare:
        yield (
            f"For {counted(len(bare), 'clutch', 'clutches')} ({listed(bare, most=_MOST_LABELS)}) nobody has published "
            "for how long such eggs stand heat or cold."
        )


def _messages(told: Sequence[ToldLine], blind: Blind) -> Iterator[str]:
    if any(line.fate is Fate.ACCEPTED and line.seen_ms is None for line in told):
        yield (
            "That a receiver took a message does not say that somebody read it; the first acknowledgement is the first "
            "proof."
        )
    if blind.total_ms:
        yield "What happened while this program saw nothing is known only by what was there before and after."


def _probes(overdue: Sequence[str], uncalibrated: Sequence[str]) -> Iterator[str]:
    if overdue:
        yield f"Calibration overdue at that time: {listed(overdue)}. Readings may be off by more than was found then."
    if uncalibrated:
        yield f"Never calibrated: {listed(uncalibrated)}. Readings are taken to be as good as the maker says."
