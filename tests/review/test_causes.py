"""Why, as far as the journal shows it; and that nothing is named that began after what it would have to explain."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import Quantity
from daemon.review.around import Around, Remark, Source
from daemon.review.causes import cause_of, span_of
from daemon.review.gaps import Gap, Late
from daemon.review.needed import review_reason
from daemon.review.values import Cause, Fact, FactKind, Span

MINUTE_MS = 60_000
MAINS = Source("ups/mains", "ups", "room", Quantity.MAINS)
NORTH = Source("north/t", "north", "north", Quantity.AIR_TEMPERATURE)
SOUTH = Source("south/t", "south", "south", Quantity.AIR_TEMPERATURE)
SOURCES = (MAINS, NORTH, SOUTH)


def fact(
    kind: FactKind, from_min: int, to_min: int | None, place: str = "", subject: str = "x", *, critical: bool = False
) -> Fact:
    end_ms = None if to_min is None else to_min * MINUTE_MS
    return Fact(kind, Span(from_min * MINUTE_MS, end_ms), place, subject, f"the words of {kind}", critical)


def gap(source: Source, from_min: int, to_min: int, late: Late | None = None) -> Gap:
    return Gap(source.channel, source.probe, source.place, Span(from_min * MINUTE_MS, to_min * MINUTE_MS), late)


SITE_GAP = fact(FactKind.SITE_GAP, 0, 60)
GAPS = [fact(FactKind.PROBE_GAP, 0, 60, each.place, each.channel) for each in (NORTH, SOUTH)]
SILENT = Around(SOURCES, (gap(NORTH, 0, 60), gap(SOUTH, 0, 60)))


@pytest.mark.parametrize(
    ("facts", "cause"),
    [
        ([*GAPS, SITE_GAP, fact(FactKind.MAINS_ABSENT, 1, 59, "", "ups/mains")], Cause.MAINS_LOST),
        ([*GAPS, SITE_GAP, fact(FactKind.MACHINE_RESTARTED, 1, 59)], Cause.MACHINE_OFF),
        ([*GAPS, SITE_GAP, fact(FactKind.SERVICE_CUT_OFF, 1, 59)], Cause.SERVICE_CUT_OFF),
        ([*GAPS, SITE_GAP, fact(FactKind.SERVICE_STOPPED, 1, 59)], Cause.SERVICE_STOPPED),
        ([*GAPS, SITE_GAP, fact(FactKind.BROKER_LOST, 1, 59)], Cause.BROKER_LOST),
        # The mains takes the machine and the broker with it.
        (
            [*GAPS, fact(FactKind.MAINS_ABSENT, 1, 59), fact(FactKind.MACHINE_RESTARTED, 2, 58),
             fact(FactKind.BROKER_LOST, 58, 59)],
            Cause.MAINS_LOST,
        ),
        # The machine went half an hour after the probes, so it is not what silenced them.
        ([*GAPS, SITE_GAP, fact(FactKind.MACHINE_RESTARTED, 30, 60)], Cause.UNKNOWN),
        ([*GAPS, SITE_GAP, fact(FactKind.MAINS_ABSENT, 30, 60)], Cause.UNKNOWN),
        ([*GAPS, SITE_GAP], Cause.UNKNOWN),
        ([GAPS[0], fact(FactKind.CLOCK_STEP, 0, 60)], Cause.CLOCK_SET),
        ([GAPS[0], fact(FactKind.CLOCK_STEP, 58, 60), fact(FactKind.MACHINE_RESTARTED, 1, 58)], Cause.MACHINE_OFF),
        ([fact(FactKind.PROBE_FAULT, 0, 9, "north", "north/t")], Cause.PROBE_FAULT),
        (
            [fact(FactKind.PROBE_FAULT, 0, 9, "north", "north/t"), fact(FactKind.EXCURSION, 0, 9, "north", "other/t")],
            Cause.UNKNOWN,
        ),
        ([fact(FactKind.DELIVERY_FAILED, 0, 60)], Cause.DELIVERY),
    ],
)  # fmt: skip
def test_the_first_in_the_chain_of_causes_is_named(facts: list[Fact], cause: Cause) -> None:
    found = cause_of(facts, SILENT)
    assert found.cause is cause
    assert found.evidence
    shuffled = list(facts)
    random.Random(1).shuffle(shuffled)
    assert cause_of(shuffled, SILENT) == found


def test_one_silent_probe_is_named_only_where_others_were_heard() -> None:
    one = Around(SOURCES, (gap(NORTH, 0, 60),))
    assert cause_of(GAPS[:1], one).cause is Cause.PROBE_SILENT
    assert cause_of(GAPS[:1], Around((NORTH,), (gap(NORTH, 0, 60),))).cause is Cause.UNKNOWN
    assert cause_of(GAPS[:1], SILENT).cause is Cause.UNKNOWN


@pytest.mark.parametrize(
    ("around", "cause", "words"),
    [
        (Around(SOURCES), Cause.HEATING, "never said that the mains is absent"),
        (Around((NORTH, SOUTH)), Cause.UNKNOWN, "No contact watches the mains"),
        (Around(SOURCES, (gap(MAINS, 10, 20),)), Cause.UNKNOWN, "whether there was power is open"),
        (Around(SOURCES, (gap(NORTH, 10, 20),)), Cause.UNKNOWN, "nothing that says why"),
        # A probe of the other cabinet has no say in it.
        (Around(SOURCES, (gap(SOUTH, 10, 20),)), Cause.HEATING, "Every probe of the place"),
    ],
)
def test_the_heating_is_named_only_with_mains_and_probes_there(around: Around, cause: Cause, words: str) -> None:
    found = cause_of([fact(FactKind.EXCURSION, 0, 60, "north", NORTH.channel)], around)
    assert found.cause is cause
    assert words in " ".join(found.evidence)


def test_too_dry_is_no_matter_of_the_heating() -> None:
    damp = Source("north/rh", "north", "north", Quantity.RELATIVE_HUMIDITY)
    facts = [fact(FactKind.EXCURSION, 0, 60, "north", "north/rh")]
    assert cause_of(facts, Around((*SOURCES, damp))).cause is Cause.UNKNOWN


def test_what_came_later_and_what_stood_open_is_told_beside_any_cause() -> None:
    late = Late(60, 99 * MINUTE_MS, whole=True)
    part = Late(3, 99 * MINUTE_MS, whole=False)
    remark = Remark(Span(5 * MINUTE_MS, 6 * MINUTE_MS), "north", "the door was open")
    other = Remark(Span(5 * MINUTE_MS, 6 * MINUTE_MS), "attic", "the other door was open")
    around = Around(SOURCES, (gap(NORTH, 0, 60, late), gap(SOUTH, 0, 60, part)), (remark, other))
    evidence = " ".join(cause_of([*GAPS, SITE_GAP, fact(FactKind.SERVICE_CUT_OFF, 1, 59)], around).evidence)
    assert "The readings of north/t came afterwards" in evidence
    assert "Of south/t a part" in evidence
    assert "the door was open" in evidence
    assert "other door" not in evidence
    assert "nobody listened" not in evidence


def test_nobody_knows_whether_probes_were_silent_while_nobody_listened() -> None:
    facts = [*GAPS, SITE_GAP, fact(FactKind.SERVICE_CUT_OFF, 1, 59)]
    assert "cannot be told" in " ".join(cause_of(facts, SILENT).evidence)
    longer = fact(FactKind.PROBE_GAP, 0, 200, "north", NORTH.channel)
    evidence = " ".join(cause_of([longer, *facts[1:]], SILENT).evidence)
    assert "north/t went on being silent" in evidence


kinds = st.sampled_from(FactKind)
facts = st.lists(
    st.builds(fact, kinds, st.integers(0, 300), st.one_of(st.none(), st.integers(300, 600)), st.just("north")),
    min_size=1,
    max_size=8,
)


@given(facts)
def test_every_incident_has_a_cause_with_a_sentence_and_a_span_around_its_facts(found: list[Fact]) -> None:
    named, span = cause_of(found, SILENT), span_of(found)
    assert all(sentence.endswith(".") or sentence.startswith("the words of") for sentence in named.evidence)
    assert named.evidence
    assert span.from_ms == min(each.span.from_ms for each in found)
    assert (span.to_ms is None) == any(each.span.to_ms is None for each in found)


# An alarm of the highest priority that is over, a gap of more than a quarter of an hour, a call that reached nobody.
@pytest.mark.parametrize(
    ("facts", "needed"),
    [
        ([fact(FactKind.EXCURSION, 0, 60, "north", critical=True)], True),
        ([fact(FactKind.EXCURSION, 0, None, "north", critical=True)], False),
        ([fact(FactKind.EXCURSION, 0, 60, "north")], False),
        ([fact(FactKind.PROBE_GAP, 0, 15, "north")], False),
        ([fact(FactKind.PROBE_GAP, 0, 16, "north")], True),
        ([fact(FactKind.SITE_GAP, 0, 16)], True),
        ([fact(FactKind.PROBE_GAP, 90, None, "north")], False),
        ([fact(FactKind.PROBE_GAP, 80, None, "north")], True),
        ([fact(FactKind.DELIVERY_FAILED, 0, 20)], True),
        ([fact(FactKind.SERVICE_CUT_OFF, 0, 60), fact(FactKind.CLOCK_STEP, 0, 60)], False),
    ],
)
def test_what_people_have_to_review(facts: list[Fact], needed: bool) -> None:
    assert bool(review_reason(facts, 100 * MINUTE_MS)) is needed
