"""What is said of a clutch and for it: every sentence of every case, and the words that must or must not be there."""

from dataclasses import replace
from itertools import product
from zoneinfo import ZoneInfo

import pytest

from daemon.development.window import NoWindow
from daemon.review.clutch import ClutchReview, most_urgent_first
from daemon.review.clutch_advice import Advice, advice
from daemon.review.clutch_words import clutch_sentences, shift_sentence
from daemon.review.values import Bounds
from tests.review.clutches import AT_MS, COLD, HOUR_MS, LETHAL, LIMIT, PAPER, damp, exposed, loss, review, shift

MADRID = ZoneInfo("Europe/Madrid")
FREEZING = 14.0
HEATS = [loss(), loss(Bounds(-3.0, 0.2, 5.0)), loss(Bounds(-6.0, -4.0, -2.0)), loss(Bounds(30, 40, 60)), None]
EXPOSURES = [
    (exposed(),),
    (exposed(LETHAL, 0.0, None, 3.0),),
    (exposed(LETHAL, 0.2, 0.3, 1.0), exposed(LIMIT, 7, 8, 9)),
    (exposed(LIMIT, 2, None, 9), exposed(COLD, 7, None, 9)),
    (),
]
CASES = [
    review(heat, exposures=exposures, air=air, venomous=venomous, share=share, coldest_c=coldest_c)
    for heat, exposures, (air, venomous, share, coldest_c) in product(
        HEATS,
        EXPOSURES,
        [
            (damp(), False, 0.9, FREEZING),
            (damp(), True, 0.9, FREEZING),
            (review().air, True, None, 19.8),
            (review().air, False, 0.4, 19.8),
        ],
    )
]


def told(of: ClutchReview, *, fahrenheit: bool = False) -> str:
    return "\n".join(clutch_sentences(of, fahrenheit=fahrenheit, zone=MADRID, now_ms=AT_MS + HOUR_MS))


def advised(of: ClutchReview) -> str:
    return "\n".join(each.text for each in advice(of, fahrenheit=False))


@pytest.mark.parametrize("fahrenheit", [False, True])
def test_every_sentence_is_one_in_the_unit_of_the_site(*, fahrenheit: bool) -> None:
    for case in CASES:
        lines = told(case, fahrenheit=fahrenheit).split("\n")
        for line in [*lines, *(each.text for each in advice(case, fahrenheit=fahrenheit))]:
            assert line[0].isupper(), line
            assert line.endswith("."), line
            assert not {"nan", "inf", "None", "-0.0"} & set(line.replace("(", " ").replace(",", " ").split()), line
            assert ("°C" if fahrenheit else "°F") not in line.replace("°C·h", ""), line


def test_every_advice_has_a_source_and_what_is_first_comes_first() -> None:
    for case in CASES:
        found = advice(case, fahrenheit=False)
        assert all(each.source for each in found)
        assert [each.first for each in found] == sorted((each.first for each in found), reverse=True)


def test_for_a_venomous_clutch_trained_handlers_come_first_and_nothing_asks_for_a_hand_in_the_box() -> None:
    for case in (each for each in CASES if each.venomous):
        first, *others = advice(case, fahrenheit=False)
        assert first.first
        assert first.text.startswith("Venomous: trained handlers only.")
        text = " ".join(each.text for each in others)
        assert not any(word in text for word in ("Wipe", "Water goes", "smell", "turn an egg", "next round")), text


def test_life_is_promised_to_nobody() -> None:
    for case in CASES:
        text = advised(case)
        assert "will live" not in text
        assert "survive" not in text
        if "lived" in text or "died no more often" in text:
            assert "Found in others" in text


def test_without_a_tolerance_in_hours_the_words_are_no_published_figure() -> None:
    assert "hours these eggs stand heat or cold: no published figure." in told(review())
    one_side = told(review(exposures=(exposed(LIMIT, 1, 1, 1),)))
    assert "hours these eggs stand cold: no published figure." in one_side
    both = told(review(exposures=(exposed(LIMIT, 1, 1, 1), exposed(COLD, 1, 1, 1))))
    assert "no published figure" not in both
    assert f"Source: {PAPER}." in both


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (
            (1.0, 2.0, 6.0),
            "Exposure limit kept: above 31.0 °C for about 2.0 (1.0 to 6.0) h; its species stands 6 h within 24 h.",
        ),
        (
            (2.0, None, 9.0),
            "Exposure limit: not known whether it was passed; above 31.0 °C for at least 2.0 h and at most 9.0 h",
        ),
        ((7.0, 7.0, 7.0), "Exposure limit passed: above 31.0 °C for 7.0 h; its species stands 6 h within 24 h."),
    ],
)
def test_an_exposure_limit_is_kept_passed_or_not_known(hours: tuple[float, float | None, float], words: str) -> None:
    assert words in told(review(exposures=(exposed(LIMIT, *hours),)))


def test_a_loss_is_told_as_heat_and_as_hours_at_the_pace_of_before() -> None:
    """5.8 h at 14.8 K are 86 °C·h (80 to 110)."""
    text = told(review(loss()))
    assert "Lost: about 86 (80 to 110) °C·h, which it gains in about 5.8 (5.4 to 7.4) h at its pace before." in text
    assert "Before means: 28.0 °C on average, over 167 measured hours of the 7 days before" in text
    assert "No reading covers 4.0 h of them." in text
    assert "middle of what its species needs" in told(review(loss(is_measured=False)))


def test_what_is_less_than_an_hour_is_no_loss_worth_telling() -> None:
    text = told(review())
    assert "It lost no development worth telling" in text
    assert advised(review(exposures=(exposed(),))) == "As far as readings tell, nothing has to be done for it now."


def test_where_no_heat_is_counted_the_reason_stands_there() -> None:
    text = told(replace(review(), heat=None, no_heat="There is no profile for this species.", stage=None))
    assert "Development: not counted. There is no profile for this species." in text
    assert "How far its development was is not known." in text


def test_a_window_that_moves_is_told_with_both_days() -> None:
    """`AT_MS` is 28 May 2026: 30 and 31 days later are 27 and 28 June."""
    assert shift_sentence(shift(), MADRID) == (
        "Hatch date: about 0.8 (0.6 to 1.2) days later, if it is kept again as before. Most likely 28 Jun 2026 "
        "instead of 27 Jun 2026; window 23 Jun 2026 to 3 Jul 2026."
    )
    earlier = shift_sentence(shift(Bounds(-2.0, -1.0, -0.5)), MADRID)
    assert earlier.startswith("Hatch date: about 1.0 (0.5 to 2.0) days earlier")
    some_hours = shift_sentence(shift(Bounds(0.0, 0.05, 0.125)), MADRID)
    assert some_hours.startswith("Hatch date: about 1.2 (0.0 to 3.0) h later, if it is kept again as before.")
    assert shift_sentence(shift(Bounds(-0.01, 0.0, 0.02)), MADRID).startswith("Hatch date: stays as it was")
    assert shift_sentence(NoWindow("No reading."), MADRID) == "Hatch date: none that could move. No reading."


def test_findings_of_cold_fit_how_cold_it_was_and_how_far_the_eggs_were() -> None:
    early, late = review(loss(), share=0.2), review(loss(), share=0.9, coldest_c=FREEZING)
    assert "alpine skink" not in advised(early)
    assert "15 °C or colder" not in advised(early)
    assert "alpine skink" in advised(late)
    assert "15 °C or colder" in advised(late)


def test_a_veterinarian_is_asked_after_heat_and_after_a_long_cold_once() -> None:
    hot = review(loss(), exposures=(exposed(LETHAL, 0.2, 0.3, 1.0), exposed(COLD, 7, None, 9)))
    long_cold = review(loss(Bounds(30, 40, 60)))
    assert advised(hot).count("veterinarian") == advised(long_cold).count("veterinarian") == 1
    assert "veterinarian" not in advised(review(loss()))


def test_for_a_clutch_that_lies_nowhere_any_more_there_is_nothing_to_do() -> None:
    closed = advice(review(loss(), is_open=False), fahrenheit=False)
    assert closed == (Advice("It lies in no incubator any more: nothing is left to do for it here.", "the register"),)


def test_venomous_clutches_come_first_then_what_was_hurt_most() -> None:
    plain, lost = review(label="plain"), review(loss(), label="lost")
    hot = review(label="hot", exposures=(exposed(LETHAL, 0.2, 0.3, 1.0),))
    venomous = review(label="venomous", venomous=True)
    assert [one.label for one in most_urgent_first([plain, lost, hot, venomous])] == [
        "venomous",
        "hot",
        "lost",
        "plain",
    ]
