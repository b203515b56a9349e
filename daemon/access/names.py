"""Which names accounts and keys of programs may have. Pure."""

from pydantic import TypeAdapter, ValidationError

from config.model import Identifier
from daemon.access.values import AT_THE_DEMO, Refused

_RESERVED = frozenset({AT_THE_DEMO, "host", "demo", "nobody"})
"""Who is meant by these in a journal is somebody else."""
_IDENTIFIER: TypeAdapter[str] = TypeAdapter(Identifier)


def mistake_in_name(name: str) -> Refused | None:
    """Say why this cannot be the name of an account or of a program's key; None where it can."""
    if not name:
        return Refused("Write a name.", field="name")
    try:
        _IDENTIFIER.validate_python(name)
    except ValidationError:
        return Refused(
            "A name has letters without accents, digits, - _ and . only, begins with a letter or digit, and has 64"
            " characters at the most. For somebody of the site take the id that site.toml has for them.",
            field="name",
        )
    if name.lower() in _RESERVED:
        return Refused(f'"{name}" means something else in the journal. Take another name.', field="name")
    return None
