"""Pure: the sentences that speak for a cause, or say what is not known."""

from collections.abc import Sequence

NOTHING_SHOWS = "The journal shows what happened, and nothing that says why."
MACHINE_WITHOUT_POWER = "The machine that watches went off meanwhile, so it hangs on the same mains."
NO_SLEEP = (
    "A machine that watches must not sleep: switch off that it is suspended when it is idle or its lid is shut "
    "(systemctl mask sleep.target suspend.target hibernate.target hybrid-sleep.target)."
)
TIME_THAT_NEVER_PASSED = (
    "Where the clock was set forward the gap in the readings is time that never passed; where it was behind, "
    "readings without a time of their own cannot be placed."
)
PROBES_BEHIND_BROKER = "What the probes said meanwhile could not reach this service, so their silence has this cause."
ALL_PROBES_THERE = (
    "Every probe of the place was heard all along, so it is the place itself: heater, thermostat or room."
)
NO_MAINS_CONTACT = "No contact watches the mains here, so whether there was power is not known."
NOBODY_LISTENED = "While the service did not run nobody listened, so whether the probes were silent too cannot be told."
SERVICE_LISTENED = (
    "The service ran and no broker was told lost, so the mains, the network or the supply of the probes is likely."
)
_MOST = 4


def mains_present(contacts: Sequence[str]) -> str:
    """The mains was there all along."""
    return f"{listed(contacts)} was heard all along and never said that the mains is absent."


def mains_not_heard(contacts: Sequence[str]) -> str:
    """The contacts were silent as well."""
    return f"{listed(contacts)}, which watches the mains, was not heard all along, so whether there was power is open."


def others_spoke(probes: Sequence[str], others: Sequence[str]) -> str:
    """Some were silent while others spoke."""
    shared = " They stopped together, so a supply or a network that they share is likely." if len(probes) > 1 else ""
    return f"The service ran and heard {listed(others)} meanwhile, so only {listed(probes)} was silent.{shared}"


def outlasted(channels: Sequence[str]) -> str:
    """Silence went on after the service listened again."""
    return f"{listed(channels)} went on being silent after the service listened again, so it was silent by itself too."


def came_later(channels: Sequence[str], of: int) -> str:
    """The readings of a gap came afterwards."""
    who = "All readings of that time" if len(channels) == of else f"The readings of {listed(channels)}"
    return f"{who} came afterwards: the probes measured all the while, and only their way here was broken."


def came_in_part(channels: Sequence[str]) -> str:
    """Some of the readings of a gap came afterwards."""
    return f"Of {listed(channels)} a part of the readings of that time came afterwards; the rest is missing."


def listed(names: Sequence[str]) -> str:
    """Write names as a sentence has them; of many the first ones and how many more."""
    if len(names) > _MOST:
        return f"{', '.join(names[: _MOST - 1])} and {len(names) - _MOST + 1} more"
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else list(names))
