"""How a salt test is done: steps, waiting times, cautions. Pure.

Waiting times are those of `sensors.salts`; the rest is common practice, no source.
"""

from collections.abc import Sequence

from sensors.salts import CAUTIONS, EQUAL_WITHIN_K, HIGHEST_C, LOWEST_C, SETTLING_H, Salt


def guide_steps(channel: str, salts: Sequence[Salt]) -> list[str]:
    """How the salt test goes, step by step; the driest salt comes first."""
    steps = [
        f"Take {', and '.join(map(_salt_text, salts))}.",
        (
            "Put a heaped spoon of it into a small open dish. Add distilled water by drops until it is like wet sand: "
            "far more crystals than water. Each dish goes into a small jar of its own that closes around the cable."
        ),
        (
            f"Let the closed jars stand for {SETTLING_H} h where it is steadily {LOWEST_C:g} to {HIGHEST_C:g} °C: in "
            "an incubator, low down, away from heater, fan and wiring. Crystals must still be there afterwards."
        ),
        (
            f"Probe and slush must be equally warm within {EQUAL_WITHIN_K:g} K: each kelvin between them is 6 % of the "
            "reading. Lay the probe beside the jars for an hour before it goes in."
        ),
    ]
    for number, salt in enumerate(salts):
        least, rather = salt.minutes()
        order = "The dry one first: hang" if number == 0 and len(salts) > 1 else "Hang"
        steps.append(
            f"{order} the probe into the {salt.formula} jar, above the slush and never into it, and close it. Wait "
            f"{least} to {rather} min until the reading stands still; then it is read."
        )
    steps.append(
        f"Meanwhile {channel} does not watch its eggs, and alarms may come: stay there, and keep a thermometer with "
        "the eggs. Put the probe back, and wait for its usual reading before you leave."
    )
    return steps


def guide_cautions(salts: Sequence[Salt]) -> list[str]:
    """What can hurt, in general and of each salt."""
    return [*CAUTIONS, *(f"{salt.formula}: {salt.caution}" for salt in salts)]


def guide_sources(salts: Sequence[Salt]) -> list[str]:
    """What the figures rest on."""
    return [
        "Values: Greenspan 1977, J. Res. Natl. Bur. Stand. 81A, 89-96, through transcriptions.",
        *(f"{salt.formula}, from memory: {salt.from_memory}." for salt in salts),
    ]


def guide_text(channel: str, salts: Sequence[Salt]) -> str:
    """The whole guide."""
    lines = ["Before you begin:", *(f"  ! {caution}" for caution in guide_cautions(salts)), "How it goes:"]
    lines += [f"  {number}. {step}" for number, step in enumerate(guide_steps(channel, salts), start=1)]
    return "\n".join([*lines, *guide_sources(salts)])


def guide_as_dict(channel: str, salts: Sequence[Salt]) -> dict[str, object]:
    """The guide, for programs."""
    return {
        "channel": channel,
        "settling_h": SETTLING_H,
        "equal_within_k": EQUAL_WITHIN_K,
        "salts": [_salt_as_dict(salt) for salt in salts],
        "steps": guide_steps(channel, salts),
        "cautions": guide_cautions(salts),
        "sources": guide_sources(salts),
    }


def _salt_text(salt: Salt) -> str:
    return f"{salt.formula} ({salt.name}; {salt.relative_humidity_pct(25.0):.1f} % RH at 25 °C)"


def _salt_as_dict(salt: Salt) -> dict[str, object]:
    least, rather = salt.minutes()
    return {
        "salt": salt.formula,
        "name": salt.name,
        "relative_humidity_pct_at_25_c": salt.relative_humidity_pct(25.0),
        "limits_pct_at_25_c": salt.limits_pct(25.0),
        "wait_min": [least, rather],
    }
