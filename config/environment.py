"""Environment variables that set something: `CLUTCHWARDEN_<SECTION>__<KEY>`, with two underscores between."""

from collections.abc import Collection, Iterator, Mapping

from config.errors import Mistake
from config.plain import Location, nearest

PREFIX = "CLUTCHWARDEN_"
FILE = "environment"


def variable_of(location: Location) -> str:
    """Give the name of the variable that sets the value at a location, such as ("broker", "port")."""
    return PREFIX + "__".join(str(step) for step in location[:2]).upper()


def environment_mistakes(names: Collection[str], sections: Mapping[str, Collection[str]]) -> Iterator[Mistake]:
    """Find variables that look like settings and set nothing; others with the prefix are left alone."""
    for name in sorted(names):
        if not name.upper().startswith(PREFIX):
            continue
        rest = name[len(PREFIX) :].lower()
        section, two_underscores, _ = rest.partition("__")
        if two_underscores and section not in sections:
            yield Mistake(FILE, name, f'there is no section "{section}" in the settings', nearest(section, sections))
        elif not two_underscores:
            yield from _single(name, rest, sections)


def _single(name: str, rest: str, sections: Mapping[str, Collection[str]]) -> Iterator[Mistake]:
    meant = next((one for one in sections if rest == one or rest.startswith(f"{one}_")), None)
    if meant is not None:
        key = rest[len(meant) + 1 :] or next(iter(sections[meant]))
        hint = f"Write {variable_of((meant, key))}, with two underscores between section and key."
        yield Mistake(FILE, name, "this variable looks like a setting and sets nothing", hint)
