"""What must be true of the installation itself before anything runs."""

from collections.abc import Mapping, Sequence
from importlib.metadata import packages_distributions

OWN_NAMES = ("config", "sensors", "daemon", "dashboards")
OWN_DISTRIBUTION = "clutchwarden"


def foreign_owners(owners: Mapping[str, Sequence[str]] | None = None) -> list[str]:
    """A sentence for each of the four import names that another installed distribution claims too.

    Two distributions with one name write into one folder, and either of them may break without a word.
    """
    known = packages_distributions() if owners is None else owners
    return [
        f"the installed package {', '.join(sorted(others))} uses the name '{name}' too; "
        "install clutchwarden into a virtual environment of its own"
        for name in OWN_NAMES
        if (others := set(known.get(name, ())) - {OWN_DISTRIBUTION})
    ]
