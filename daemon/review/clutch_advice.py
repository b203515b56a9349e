"""What the keeper does for a clutch after an outage, from what is known of it; each piece with its source. Pure.

Findings are told as they were found, of the species that they were found in, and promise nothing. For a venomous clutch
nothing is asked that needs a hand in its box.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from config.words import Quantity
from daemon.alarms.figures import value_text
from daemon.review.clutch import ClutchReview
from daemon.review.clutch_heat import HatchShift, best_of
from daemon.review.values import Verdict
from daemon.rounds.cautions import PRACTICE, VENOMOUS

READINGS = "from the readings"
_LATER_DAYS = 0.5
"""A hatch window that moves by less than this is the same day for whoever looks."""
_LONG_COLD_H = 24.0
"""So many hours of development lost are worth asking somebody who knows. Project choice."""
_WORTH_TELLING_H = 1.0
"""Hours with water on the lid, or too dry, below which nothing is asked. Project choice."""
_COLD_KILLED_C = 15.0


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to do or to know, for people; `first`: before everything else on the page."""

    text: str
    source: str
    first: bool = False


def advice(review: ClutchReview, *, fahrenheit: bool) -> tuple[Advice, ...]:
    """Tell what to do for a clutch now, the most dangerous first."""
    warned = tuple(_warned(review))
    if not review.is_open:
        return (*warned, Advice("It lies in no incubator any more: nothing is left to do for it here.", "the register"))
    found = (*_after_heat(review, fahrenheit), *_after_cold(review, fahrenheit), *_after_air(review))
    if not found:
        told = "Nothing has to be done for it now."
        if review.heat is not None and review.heat.missing_h >= _WORTH_TELLING_H:
            told = "As far as readings tell, nothing has to be done for it now."
        return (*warned, Advice(told, READINGS))
    return (*warned, *found, *_look(review))


def _warned(review: ClutchReview) -> Iterator[Advice]:
    if review.venomous:
        yield Advice(
            f"{VENOMOUS}. Nothing here asks anybody to open its box or to put a hand near it.",
            "as the clutch or the profile of its species says",
            first=True,
        )
    elif review.caution:
        yield Advice(review.caution, f"profile of the {review.species_name}", first=True)


def _after_heat(review: ClutchReview, fahrenheit: bool) -> Iterator[Advice]:
    verdict = review.verdict(above=True)
    check = "See now that the heater is not stuck on, and that its place reads what you set."
    if verdict is Verdict.UNKNOWN:
        yield Advice(f"Whether it was too hot is not known: no reading says so of all the time. {check}", READINGS)
    if verdict is not Verdict.OUT:
        return
    yield Advice(f"It was too hot. {check}", READINGS)
    yield Advice("Heat can kill eggs within minutes to hours, where cold mostly holds them back.", PRACTICE)
    yield Advice(
        f"Found in others: of fence lizards all embryos lived through one brief peak of {_t(42, fahrenheit)} and none "
        f"through {_t(44, fahrenheit)}; an earlier trial of the same people lost all at {_t(42, fahrenheit)}.",
        "Levy et al., meeting abstract (SICB), Sceloporus undulatus",
    )
    yield Advice(
        f"Found in others: of wall lizards, with spells of 1 to 5 h above {_t(35, fahrenheit)}, 83 % lived.",
        "Castilla and Swallow 1996, Podarcis hispanicus atrata",
    )
    yield _ask_a_veterinarian()


def _after_cold(review: ClutchReview, fahrenheit: bool) -> Iterator[Advice]:
    was_cold = review.verdict(above=False) in (Verdict.OUT, Verdict.UNKNOWN)
    if not (review.is_held_back or was_cold):
        return
    yield Advice(
        "Let it warm up by its usual setting. Do not set it higher to make up for lost time: heat can harm what cold "
        "has only held back.",
        PRACTICE,
    )
    yield Advice(
        f"Found in others: eggs of four species of fence lizards died no more often for five days at "
        f"{_t(8, fahrenheit)} to {_t(17, fahrenheit)}; they hatched later. That is no promise for these eggs.",
        "Andrews, Qualls and Rose 1997, Copeia 1997:827-833",
    )
    yield from _cold_by_stage(review, fahrenheit)
    yield from _later(review)
    lost = None if review.heat is None else review.heat.lost_h
    long_cold = lost is not None and best_of(lost) >= _LONG_COLD_H
    if (long_cold or was_cold) and review.verdict(above=True) is not Verdict.OUT:
        yield _ask_a_veterinarian()


def _cold_by_stage(review: ClutchReview, fahrenheit: bool) -> Iterator[Advice]:
    if review.is_late:
        yield Advice(
            f"Found in others: late embryos of an alpine skink had nights down to {_t(0, fahrenheit)} and "
            "hatched hardly later.",
            "Shine 2002, Bassiana duperreyi",
        )
    coldest = review.extremes
    if coldest is not None and coldest.coldest_possible_c <= _COLD_KILLED_C:
        measured = coldest.lowest_c is not None and coldest.lowest_c <= _COLD_KILLED_C
        yield Advice(
            f"It {'was' if measured else 'may have been'} {_t(_COLD_KILLED_C, fahrenheit)} or colder. Found in "
            "others: of a wall lizard such a spell killed early embryos, and later ones came out deformed.",
            "Simoniello et al. 2016, Podarcis siculus",
        )


def _later(review: ClutchReview) -> Iterator[Advice]:
    shift = review.shift
    if isinstance(shift, HatchShift) and best_of(shift.days) >= _LATER_DAYS:
        yield Advice(
            f"Expect it to hatch about {best_of(shift.days):.1f} days later than before, and look for it that much "
            "longer before you call it overdue.",
            READINGS,
        )


def _after_air(review: ClutchReview) -> Iterator[Advice]:
    dry, water = review.air.dry, review.air.water
    if dry is not None and dry.hours.low >= _WORTH_TELLING_H:
        told = "The air in its box was too dry."
        if review.venomous:
            yield Advice(f"{told} What follows from that is for a trained handler to decide.", READINGS)
        else:
            yield Advice(f"{told} Water goes on the medium beside the eggs, never on them.", PRACTICE)
    if water is not None and water.expected_h >= _WORTH_TELLING_H:
        told = "Water settled on the lid of its box."
        if review.venomous:
            yield Advice(f"{told} No study was found of what drops do to eggs.", READINGS)
        else:
            yield Advice(
                f"{told} Wipe it off when the box is opened anyway; no study was found of what drops do to eggs.",
                PRACTICE,
            )


def _look(review: ClutchReview) -> Iterator[Advice]:
    if review.venomous:
        yield Advice(
            "Look from outside alone, as your written protocol says: dents, drops, mould, an egg that has opened.",
            PRACTICE,
        )
    else:
        yield Advice(
            "Look at the eggs at the next round: dents, drops, mould, smell. Do not turn an egg, and leave sound ones "
            "where they are.",
            PRACTICE,
        )


def _ask_a_veterinarian() -> Advice:
    return Advice(
        "Whether its embryos live, no temperature can tell. Ask a veterinarian who knows reptiles; show this review.",
        PRACTICE,
    )


def _t(temperature_c: float, fahrenheit: bool) -> str:
    """Whole degrees, as papers state them: 42 °C, 108 °F."""
    if fahrenheit:
        return f"{temperature_c * 9 / 5 + 32:.0f} °F"
    return value_text(temperature_c, Quantity.AIR_TEMPERATURE, fahrenheit=False).replace(".0 ", " ")
