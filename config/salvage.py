"""Takes the unusable out of a document, so that the rest can be checked in the same run.

A keeper who corrects one mistake and then meets the next, ten times over, gives up. So what pydantic refuses is left
out, the rest is validated again, and the rules between tables look at what remains.
"""

import copy
from collections.abc import Mapping
from typing import Any, NamedTuple, TypeVar

from pydantic import BaseModel, ValidationError

from config.errors import Mistake
from config.plain import Location, translate

Model = TypeVar("Model", bound=BaseModel)
UNKNOWN = "?"
"""In `lost`: a whole table of unknown meaning was left out, so anything may be missing."""
_MOST_ROUNDS = 20


class Findings(NamedTuple):
    """The mistakes of a document, and the names of the tables from which something was left out."""

    mistakes: tuple[Mistake, ...]
    lost: frozenset[str]


def salvage(
    model: type[Model], document: dict[str, Any], file: str, stand_in: Mapping[Location, Any]
) -> tuple[Model | None, Findings]:
    """Validate what can be; None where nothing is left. The mistakes are those of the whole document.

    `stand_in` gives a value for a missing key without which nothing else could be looked at.
    """
    rest = copy.deepcopy(document)
    mistakes: tuple[Mistake, ...] | None = None
    lost: set[str] = set()
    for _ in range(_MOST_ROUNDS):
        try:
            found = model.model_validate(rest, by_alias=True, by_name=False)
        except ValidationError as error:
            errors = error.errors(include_url=False)
        else:
            return found, Findings(mistakes or (), frozenset(lost))
        if mistakes is None:
            mistakes = translate(errors, file, model, document)
        # From the end of a list to its start, so that what is left out moves nothing that still has to be.
        replaced = [one["loc"] for one in errors if one["type"] == "missing" and one["loc"] in stand_in]
        unusable = {_unusable(one["type"], one["loc"]) for one in errors if one["loc"] not in replaced}
        for location in sorted(unusable, key=_order, reverse=True):
            if not location:
                return None, Findings(mistakes, frozenset({UNKNOWN}))
            lost |= _leave_out(rest, location)
        for location in replaced:
            _child(rest, location[:-1])[location[-1]] = copy.deepcopy(stand_in[location])
    return None, Findings(mistakes or (), frozenset({UNKNOWN}))


def _unusable(kind: str, location: Location) -> Location:
    """Give what has to go: the table in which something is missing, else the value or unknown key itself."""
    return location[:-1] if kind == "missing" or location[-1:] == ("[key]",) else location


def _order(location: Location) -> tuple[tuple[int, str], ...]:
    return tuple((step, "") if isinstance(step, int) else (-1, step) for step in location)


def _leave_out(document: Any, location: Location) -> set[str]:
    removed = _child(document, location[:-1]).pop(location[-1])
    if isinstance(location[-1], int):
        return {str(location[-2])}
    return {UNKNOWN} if isinstance(removed, (dict, list)) else set()


def _child(document: Any, location: Location) -> Any:
    for step in location:
        document = document[step]
    return document
