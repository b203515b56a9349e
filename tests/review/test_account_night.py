"""A night without mains, told: the account holds the truth, and reads as somebody who was not there needs it."""

import json
import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.errors import StatedError
from daemon.review.account import MARGIN_MS, BlindKind, Fate, LineKind, Review
from daemon.review.account_dict import review_dict
from daemon.review.account_text import account_text
from daemon.review.place import LimitKind, PlaceReview
from daemon.review.values import Bounds, Cause, Span, Verdict
from daemon.review_incidents import UnknownIncidentError
from tests.support.household import DAY_MS
from tests.support.told_night import AIR, BACK_MS, HOUR_MS, LOST_MS, ToldNight, at, lines, live_through, told_night

SHELF = "north/upper"
LOW_C = 24.0
"""What the ratsnakes of the household need at least: its profile."""
OUT_H = (BACK_MS - LOST_MS) / HOUR_MS - 4 * math.log(10 / 6) + (LOW_C - 21.8352) / 4
"""Below 24 °C from 4 ln(10/6) h after the loss on, until it was heated from 21.8352 °C up by 4 K in an hour."""
OUT_CH = 6 * 1.79001 - 40 * (0.6 - 0.383517) + 2.1648**2 / 8
"""Between 24 °C and 18 + 10 exp(-t / 4 h): 6 Δt less 40 times the difference of the exponentials; then a triangle."""


@pytest.fixture(scope="module")
def lived(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ToldNight]:
    """For tests that read alone."""
    with told_night(tmp_path_factory.mktemp("lived")) as night:
        live_through(night)
        yield night


@pytest.fixture(scope="module")
def account(lived: ToldNight) -> Review:
    return lived.newest()


@pytest.fixture
def night(tmp_path: Path) -> Iterator[ToldNight]:
    with told_night(tmp_path) as made:
        yield made


def place(review: Review, path: str) -> PlaceReview:
    (found,) = (each.review for each in review.places if each.review.place == path)
    return found


def holds(bounds: Bounds | None, truth: float) -> bool:
    assert bounds is not None
    return bounds.low <= truth <= bounds.high


def test_the_figures_of_this_file_are_those_of_the_law() -> None:
    assert pytest.approx(2.3312, abs=0.001) == OUT_H
    assert pytest.approx(2.667, abs=0.002) == OUT_CH


def test_the_incident_has_its_cause_and_a_margin_on_both_sides(account: Review) -> None:
    incident = account.incident
    assert incident is not None
    assert incident.cause is Cause.MAINS_LOST
    assert account.period == Span(incident.span.from_ms - MARGIN_MS, incident.span.until(0) + MARGIN_MS)
    assert account.waits_for_review
    assert not account.is_going_on
    assert account.heading == "Incident 1: Mains lost"


def test_time_and_degree_hours_outside_hold_the_truth(account: Review) -> None:
    limits = {each.kind: each for each in place(account, SHELF).limits}
    low = limits[LimitKind.LOW]
    assert low.verdict is Verdict.OUT
    assert holds(low.outside_ms, OUT_H * HOUR_MS)
    assert holds(low.degree_hours, OUT_CH)
    assert limits[LimitKind.HIGH].verdict is Verdict.IN
    assert limits[LimitKind.LETHAL_HIGH].verdict is Verdict.IN
    (gap,) = place(account, SHELF).gaps
    assert (gap.coldest_c.low, gap.coldest_c.high) < (21.8352, 24.0)
    assert gap.before is not None
    assert gap.after is not None
    assert (gap.before.at_ms, gap.after.at_ms) == (at(2, 9), at(6))


def test_the_first_paragraph_says_what_happened_how_cold_and_what_it_means(account: Review) -> None:
    first, second, third, due = account.summary
    assert first == (
        "From Fri 29 May 2026 02:09 to 06:46 (4 h 37 min), there was no mains, the machine that watches was off, "
        "nothing was heard of any probe and North cabinet, upper shelf was out of range; the cause, as far as the "
        "journal shows it: the mains was lost."
    )
    assert second.startswith(
        "Measured in all: at the coldest 21.8 °C (North cabinet, upper shelf), at the hottest 28.0 °C"
    )
    assert "where nobody measured it most likely went down to 21.8 °C (North cabinet, upper shelf)" in second
    assert "in about 95 of 100 such cases not below" in second
    assert third == (
        "The limits of temperature of 2 places were not kept in 2; of 1 clutch, 1 lost development worth telling."
    )
    assert due == "A review is due: nothing was heard for 3 h 51 min."


def test_the_whole_text_reads_as_an_account(account: Review) -> None:
    text = " ".join(account_text(account).split())
    for sentence in (
        "Test house: Incident 1: Mains lost",
        "What is looked at: Fri 29 May 2026 00:09 to 08:46 (Europe/Madrid)",
        "Nobody measured from Fri 29 May 02:09 to 06:00 (3 h 51 min).",
        "The last reading before: 28.0 °C (Fri 29 May 02:09); the first after: 21.8 °C (Fri 29 May 06:00).",
        "Lower limit, 24.0 °C: not kept. It was below it for about",
        "Upper limit, 30.0 °C: kept.",
        "Juniper: Let it warm up by its usual setting.",
        "[common practice, no source]",
        "For how many hours these eggs stand heat or cold: no published figure.",
        "The room, by room/air: 18.0 °C.",
        "For 3 h 51 min of these 8 h 37 min (45 %) this program saw nothing at all",
        "Whether an embryo lives, no temperature can tell",
        "Never calibrated: north-air/air, north-air/rh and room/air.",
        "Cause: not written yet",
        "clutchwarden verify --head looks for it",
    ):
        assert sentence in text
    assert not {"None", "nan", "inf", "Traceback"} & set(text.replace(",", " ").replace(".", " ").split())


def test_who_was_told_when_and_who_saw_it_first(account: Review) -> None:
    (called,) = (line for line in account.told if "too cool" in line.about and line.called)
    assert (called.who, called.fate, called.seen_by, called.seen_ms) == ("Ana", Fate.ACCEPTED, "Ana", at(6, 40))
    assert called.accepted_ms == at(6, 16)
    assert "First acknowledged by Ana 06:40." in called.words
    (over,) = (line for line in account.told if "was too cool" in line.about)
    assert not over.called
    assert "acknowledged" not in over.words


def test_blind_time_is_from_the_last_reading_to_the_first_counted_once(account: Review) -> None:
    assert account.blind.total_ms == at(6) - at(2, 9)
    assert account.blind.share == pytest.approx(231 / 517)
    assert {each.kind for each in account.blind.stretches} == {BlindKind.SERVICE, BlindKind.SITE, BlindKind.PROBE}
    silent = dict(account.blind.probe_ms)
    assert silent[AIR] == at(6) - at(2, 9)


def test_the_timeline_is_one_and_in_order(account: Review) -> None:
    moments = [line.at_ms for line in account.timeline]
    assert moments == sorted(moments)
    assert account.period.from_ms <= moments[0]
    assert moments[-1] <= account.period.until(0)
    kinds = {line.kind for line in account.timeline}
    assert {LineKind.SAMPLE, LineKind.GAP, LineKind.POWER, LineKind.SERVICE, LineKind.ALARM, LineKind.MESSAGE} <= kinds
    assert lines(account, LineKind.PERSON) == [
        "Too cool (north-air/air) acknowledged by Ana. Heater is warm, doors kept shut."
    ]
    assert "Last reading before the gap: 28.0 °C (north-air/air)." in lines(account, LineKind.SAMPLE)
    assert "First reading after the gap: 21.8 °C (north-air/air)." in lines(account, LineKind.SAMPLE)
    # Silences of single probes are part of the one of all.
    assert len(lines(account, LineKind.GAP)) == 2


def test_it_is_the_same_whoever_asks_and_when_it_is_lived_again(
    lived: ToldNight, account: Review, tmp_path: Path
) -> None:
    known = review_dict(account)
    json.dumps(known, allow_nan=False)
    assert review_dict(lived.newest()) == known
    with told_night(tmp_path) as again:
        live_through(again)
        # The code of the chain is of the journal as a file, and no other part is.
        assert review_dict(again.newest()) | {"chain_code": ""} == known | {"chain_code": ""}


def test_an_account_of_the_same_period_needs_no_incident(lived: ToldNight, account: Review) -> None:
    found = lived.desk.review(account.period.from_ms, account.period.until(0))
    assert found.incident is None
    assert [each.incident_id for each in found.others] == [1]
    assert "the journal shows 1 incident: 1 (mains lost)." in found.summary[0]
    same = ("places", "clutches", "told", "blind", "timeline")
    assert {key: review_dict(found)[key] for key in same} == {key: review_dict(account)[key] for key in same}


def test_a_quiet_period_says_so(lived: ToldNight) -> None:
    found = lived.desk.review(at(23), at(1))
    first, second, third = found.summary
    assert first == "From Thu 28 May 2026 23:00 to Fri 29 May 01:00 (2 h) the journal shows no incident."
    assert second.endswith("there was a reading all along.")
    assert third == "The limits of temperature of 2 places were kept in 2; of 1 clutch, none lost or passed anything."
    assert found.blind.words == "This program saw every probe through all of these 2 h."
    assert found.told == ()


def test_the_time_since_the_last_readings_is_no_gap(lived: ToldNight) -> None:
    """At nine the newest readings are a minute old, and the next ones on their way."""
    found = lived.desk.review(at(8, 30), at(9))
    assert place(found, SHELF).gaps == ()
    assert place(found, SHELF).verdict is Verdict.IN


@pytest.mark.parametrize(
    ("since_ms", "until_ms", "says"),
    [
        (at(5), at(4), "ends before it begins"),
        (at(5), at(5), "ends before it begins"),
        (at(9) + 1, at(9) + HOUR_MS, "lies ahead: it is Fri 29 May 2026 09:00 now"),
        (at(9) - 36 * DAY_MS, at(9), "36 d long"),
        (at(9) - 30 * DAY_MS, at(9) - 29 * DAY_MS, "knows nothing of this time: it begins Sat 23 May 2026 22:00"),
    ],
)
def test_periods_that_cannot_be_are_refused_in_words(lived: ToldNight, since_ms: int, until_ms: int, says: str) -> None:
    with pytest.raises(StatedError, match=says) as refused:
        lived.desk.review(since_ms, until_ms)
    assert refused.value.hint


def test_an_unknown_incident_and_an_empty_journal_are_told(lived: ToldNight, night: ToldNight) -> None:
    with pytest.raises(UnknownIncidentError):
        lived.desk.review_of(9)
    assert [each.incident_id for each in lived.desk.nearest(9)] == [1]
    assert night.desk.newest() is None
    assert night.desk.nearest(9) == []
    with pytest.raises(StatedError, match="holds nothing yet"):
        night.desk.review(at(22) - HOUR_MS, at(22))


def test_making_an_account_changes_nothing(lived: ToldNight) -> None:
    def everything() -> list[tuple[str, int]]:
        with lived.journal.read() as conn:
            tables = [
                name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY 1")
            ]
            return [(name, conn.execute(f"SELECT count(*) FROM {name}").fetchone()[0]) for name in tables]

    before = everything()
    lived.newest()
    lived.desk.review(at(23), at(8))
    assert everything() == before
