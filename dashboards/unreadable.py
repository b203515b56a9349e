"""The answer to what does not have the described form: which part is wrong, and how. Nothing of it is sent back."""

from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse

MOST_SAID = 10
"""Of a long list of mistakes the first ones help; the others cost as much as what was sent. Project choice."""
_LONGEST_NAME = 60
_HINT = "Load the page again. If this comes again, write down what was entered, and report it."


def say_what_is_wrong(app: FastAPI) -> None:
    """Let an app answer so."""
    app.add_exception_handler(RequestValidationError, _answer)


def _answer(_request: Request, error: Exception) -> JSONResponse:
    mistakes = error.errors() if isinstance(error, RequestValidationError) else []
    said = [_mistake(each) for each in mistakes[:MOST_SAID]]
    first = said[0] if said else {"loc": [], "msg": "it cannot be read"}
    where = " ".join(str(part) for part in first["loc"][1:]) or "what was sent"
    reason = f"what was sent cannot be taken: {where}: {first['msg']}"
    # `detail` is the described form; the others are what a page shows beside an entry that was refused.
    return JSONResponse({"detail": said, "result": "refused", "reason": reason, "hint": _HINT, "field": ""}, 422)


def _mistake(error: Mapping[str, Any]) -> dict[str, Any]:
    place: Sequence[Any] = error.get("loc", ())
    return {
        "loc": [part if isinstance(part, int) else _printable(str(part)) for part in place],
        "msg": _printable(str(error.get("msg", "")), 200),
        "type": str(error.get("type", "")),
    }


def _printable(text: str, longest: int = _LONGEST_NAME) -> str:
    """Names of fields are whatever was sent, and half a character cannot be sent back."""
    return "".join(each if each.isprintable() else "?" for each in text[:longest])
