"""Pure: the first paragraph of an account, what happened in three sentences, and its title."""

from collections.abc import Iterator, Sequence

from daemon.review.clutch import ClutchReview
from daemon.review.course import GapKind
from daemon.review.place import PlaceReview
from daemon.review.telling import ABOUT_95, Telling, counted, listed
from daemon.review.values import Cause, Fact, FactKind, Incident, Span, Verdict

CAUSE_WORDS = {
    Cause.MAINS_LOST: "the mains was lost",
    Cause.MACHINE_OFF: "the machine that watches was off or crashed",
    Cause.MACHINE_SLEPT: "the machine that watches was suspended",
    Cause.SERVICE_STOPPED: "somebody or the system ended the service that watches",
    Cause.SERVICE_CUT_OFF: "the service that watches ended without a word",
    Cause.BROKER_LOST: "the broker was lost, through which all readings come",
    Cause.PROBE_SILENT: "a probe was silent while others spoke",
    Cause.PROBE_FAULT: "a probe said what cannot be true",
    Cause.CLOCK_SET: "the clock of the machine was set",
    Cause.DELIVERY: "a call did not get through",
    Cause.HEATING: "the heating, its thermostat or the room, with the mains there all along",
    Cause.UNKNOWN: "unknown",
}
"""The cause as it goes on after `Cause: `."""
TITLES = {
    Cause.MAINS_LOST: "Mains lost",
    Cause.MACHINE_OFF: "The machine that watches was off",
    Cause.MACHINE_SLEPT: "The machine that watches slept",
    Cause.SERVICE_STOPPED: "The service did not run",
    Cause.SERVICE_CUT_OFF: "The service was cut off",
    Cause.BROKER_LOST: "Broker lost",
    Cause.PROBE_SILENT: "A probe fell silent",
    Cause.PROBE_FAULT: "A probe was faulty",
    Cause.CLOCK_SET: "The clock was set",
    Cause.DELIVERY: "A call reached nobody",
    Cause.HEATING: "Out of range with the mains there",
    Cause.UNKNOWN: "Cause unknown",
}
_WHAT = (
    (FactKind.MAINS_ABSENT, "there was no mains"),
    (FactKind.MACHINE_RESTARTED, "the machine that watches was off"),
    (FactKind.MACHINE_SLEPT, "the machine that watches slept"),
    (FactKind.SERVICE_CUT_OFF, "the service that watches did not run"),
    (FactKind.SERVICE_STOPPED, "the service that watches did not run"),
    (FactKind.BROKER_LOST, "the broker was not connected"),
    (FactKind.SITE_GAP, "nothing was heard of any probe"),
    (FactKind.CLOCK_STEP, "the clock of the machine was wrong"),
)


def heading(incident: Incident | None) -> str:
    """Give the title."""
    return "Review of a period" if incident is None else f"Incident {incident.incident_id}: {TITLES[incident.cause]}"


def summary(
    incident: Incident | None,
    others: Sequence[Incident],
    period: Span,
    looked: tuple[Sequence[PlaceReview], Sequence[ClutchReview]],
    names: dict[str, str],
    telling: Telling,
) -> tuple[str, ...]:
    """Say what happened, how cold and hot it was, and what that means; then why it is to be reviewed, if it is.

    `looked` are the reviews of places and of clutches, `names` those of the places for people.
    """
    places, clutches = looked
    first = _happened(incident, names, telling) if incident is not None else _period(others, period, telling)
    due = [f"A review is due: {incident.review}."] if incident is not None and incident.needs_review else []
    return (first, _how_warm(places, telling), _means(places, clutches), *due)


def _happened(incident: Incident, names: dict[str, str], telling: Telling) -> str:
    begin = telling.span(incident.span, dated=True)
    clauses = list(_what(incident.facts, names)) or ["something was not as it should be"]
    what = " and ".join([", ".join(clauses[:-1]), clauses[-1]] if len(clauses) > 1 else clauses)
    if incident.cause is Cause.UNKNOWN:
        why = "the journal does not show why"
    else:
        why = f"the cause, as far as the journal shows it: {CAUSE_WORDS[incident.cause]}"
    return f"{begin[:1].upper()}{begin[1:]}, {what}; {why}."


def _what(facts: Sequence[Fact], names: dict[str, str]) -> Iterator[str]:
    kinds = {fact.kind for fact in facts}
    yield from dict.fromkeys(words for kind, words in _WHAT if kind in kinds)
    if FactKind.SITE_GAP not in kinds and FactKind.PROBE_GAP in kinds:
        yield f"nothing was heard of {listed(_subjects(facts, FactKind.PROBE_GAP))}"
    if FactKind.PROBE_FAULT in kinds:
        yield f"{listed(_subjects(facts, FactKind.PROBE_FAULT))} said what cannot be true"
    outside = sorted({names.get(fact.place, fact.place) for fact in facts if fact.kind is FactKind.EXCURSION})
    if len(outside) == 1:
        yield f"{outside[0]} was out of range"
    elif outside:
        yield f"{counted(len(outside), 'place')} were out of range ({listed(outside)})"
    if FactKind.DELIVERY_FAILED in kinds:
        yield "a call did not get through"


def _subjects(facts: Sequence[Fact], kind: FactKind) -> list[str]:
    return sorted({fact.subject for fact in facts if fact.kind is kind})


def _period(others: Sequence[Incident], period: Span, telling: Telling) -> str:
    begin = telling.span(period, dated=True)
    if not others:
        return f"{begin[:1].upper()}{begin[1:]} the journal shows no incident."
    which = listed([f"{each.incident_id} ({TITLES[each.cause].lower()})" for each in others])
    return f"{begin[:1].upper()}{begin[1:]} the journal shows {counted(len(others), 'incident')}: {which}."


def _how_warm(places: Sequence[PlaceReview], telling: Telling) -> str:
    lows = [(each.lowest.temperature_c, each) for each in places if each.lowest is not None]
    highs = [(each.highest.temperature_c, each) for each in places if each.highest is not None]
    if not lows or not highs:
        return f"No temperature was measured in all this time{_unmeasured(places, telling)}."
    low_c, coldest = min(lows, key=lambda each: each[0])
    high_c, hottest = max(highs, key=lambda each: each[0])
    measured = (
        f"Measured in all: at the coldest {telling.temperature(low_c)} ({coldest.name}), at the hottest "
        f"{telling.temperature(high_c)} ({hottest.name})"
    )
    return f"{measured}{_unmeasured(places, telling)}."


def _unmeasured(places: Sequence[PlaceReview], telling: Telling) -> str:
    gaps = [(gap, each.name) for each in places for gap in each.gaps if gap.kind is not GapKind.OTHER_PROBE]
    if not gaps:
        return "; there was a reading all along"
    gap, name = min(gaps, key=lambda each: each[0].coldest_c.low)
    low, best, _ = gap.coldest_c
    if low == float("-inf"):
        return f"; where nobody measured, nobody can tell how cold it was in {name}"
    if best is None:
        return f"; where nobody measured it was {ABOUT_95} not below {telling.temperature(low)} ({name})"
    return (
        f"; where nobody measured it most likely went down to {telling.temperature(best)} ({name}), and {ABOUT_95} not "
        f"below {telling.temperature(low)}"
    )


def _means(places: Sequence[PlaceReview], clutches: Sequence[ClutchReview]) -> str:
    judged = [each.temperature_verdict for each in places if any(not one.kind.is_humidity for one in each.limits)]
    told = "No place had limits of temperature to keep"
    if judged:
        words = {Verdict.IN: "were kept in", Verdict.OUT: "were not kept in", Verdict.UNKNOWN: "cannot be told in"}
        found = [f"{told} {judged.count(verdict)}" for verdict, told in words.items() if verdict in judged]
        told = f"The limits of temperature of {counted(len(judged), 'place')} {listed(found)}"
    if not clutches:
        return f"{told}; no clutch lay here."
    verdicts = [{each.verdict(above=True), each.verdict(above=False)} for each in clutches]
    counts = (
        (sum(each.is_held_back for each in clutches), "lost development worth telling"),
        (sum(Verdict.OUT in each for each in verdicts), "passed a limit that is known for its species"),
        (
            sum(Verdict.UNKNOWN in each and Verdict.OUT not in each for each in verdicts),
            "may have passed one, which cannot be told",
        ),
    )
    some = [f"{count} {what}" for count, what in counts if count]
    return (
        f"{told}; of {counted(len(clutches), 'clutch', 'clutches')}, {listed(some) or 'none lost or passed anything'}."
    )
