"""What was typed into a form, and whether it is one of our own forms: each carries the guard token of its session.

Every route that changes something depends on one of these; a test walks through the routes and holds them to it.
"""

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import parse_qs

from fastapi import Depends, HTTPException, Request
from starlette.datastructures import UploadFile

from dashboards.visiting import visitor

GUARD_FIELD = "guard"
GUARD_HEADER = "Clutchwarden-Guard"
LARGEST_FORM_BYTES = 65_536
LARGEST_OPEN_FORM_BYTES = LARGEST_FORM_BYTES
"""Sign-in takes along what somebody had typed into another form."""
LARGEST_PART_BYTES = 16_384
LARGEST_FILE_BYTES, LARGEST_UPLOAD_BYTES = 20_000_000, 100_000_000
"""Of a file no more than this is read, and a larger form is not taken in at all."""
_MOST_FIELDS = 250
_MOST_OPEN_FIELDS = 10
FORM_TYPE = "application/x-www-form-urlencoded"
_UPLOAD = "multipart/form-data"


class GuardError(Exception):
    """What was sent does not carry the guard token of the session: it may have been made by another site."""


def new_guard() -> str:
    """Make a token for whoever has no session and yet a browser: where nobody signs in."""
    return secrets.token_urlsafe(24)


def check_guard(given: str) -> None:
    """Raise GuardError unless this is the guard token of the visitor. A program's key, which has none, needs none."""
    here = visitor()
    if here is None or not hmac.compare_digest(given.encode(), here.guard.encode()):
        raise GuardError


async def read_fields(request: Request) -> dict[str, list[str]]:
    """Read a form of our own with all values of every field, without the guard. Raises GuardError."""
    fields = await _read(request, LARGEST_FORM_BYTES, _MOST_FIELDS)
    given = fields.pop(GUARD_FIELD, [""])[-1]
    _check(request, given)
    return fields


async def read_form(request: Request) -> dict[str, str]:
    """Read a form of our own; of a field that was sent more than once, the last value. Raises GuardError."""
    return _last(await read_fields(request))


async def read_open_form(request: Request) -> dict[str, str]:
    """Read a form that somebody may send who has not signed in: there is no session that another site could use."""
    fields = _last(await _read(request, LARGEST_OPEN_FORM_BYTES, _MOST_OPEN_FIELDS))
    fields.pop(GUARD_FIELD, None)
    return fields


@dataclass(frozen=True, slots=True)
class Uploaded:
    """A form with one file: what was typed, and the file, of which no more is held than was asked for, and one byte."""

    fields: Mapping[str, str]
    data: bytes


async def read_upload(request: Request) -> Uploaded:
    """Read a form of our own with a file (RFC 7578); of the file at most one byte too many. Raises GuardError."""
    if request.headers.get("content-type", "").split(";")[0].strip().lower() != _UPLOAD:
        raise HTTPException(415, "Send the form of the page.")
    length = request.headers.get("content-length", "")
    if not length.isdecimal() or int(length) > LARGEST_UPLOAD_BYTES:
        raise HTTPException(413, f"The file is larger than {LARGEST_UPLOAD_BYTES // 10**6} MB; send a smaller one.")
    async with request.form(max_files=1, max_fields=_MOST_OPEN_FIELDS, max_part_size=LARGEST_PART_BYTES) as form:
        fields = {name: value for name, value in form.items() if isinstance(value, str)}
        _check(request, fields.pop(GUARD_FIELD, ""))
        files = [value for value in form.values() if isinstance(value, UploadFile)]
        return Uploaded(fields, await files[0].read(LARGEST_FILE_BYTES + 1) if files else b"")


async def guarded(request: Request) -> None:
    """Look at the header alone, for what is no plain form: JSON, and files. Raises GuardError."""
    _check(request, "")


Form = Annotated[dict[str, str], Depends(read_form)]
Fields = Annotated[dict[str, list[str]], Depends(read_fields)]
OpenForm = Annotated[dict[str, str], Depends(read_open_form)]
Upload = Annotated[Uploaded, Depends(read_upload)]
Guarded = Depends(guarded)

GUARDS = frozenset({read_fields, read_form, read_upload, guarded})
"""What a route that changes something depends on."""


def _check(request: Request, given: str) -> None:
    check_guard(request.headers.get(GUARD_HEADER, "") or given)


def _last(fields: Mapping[str, list[str]]) -> dict[str, str]:
    return {name: values[-1] for name, values in fields.items()}


async def _read(request: Request, most_bytes: int, most_fields: int) -> dict[str, list[str]]:
    """Read the fields; at most so many bytes and one piece are ever held."""
    if request.headers.get("content-type", "").split(";")[0].strip().lower() != FORM_TYPE:
        raise HTTPException(415, "Send the form of the page.")
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > most_bytes:
            raise HTTPException(413, f"The form is larger than {most_bytes} bytes; write a shorter text.")
    try:
        return parse_qs(bytes(body).decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=most_fields)
    except ValueError:
        raise HTTPException(400, "The form has more fields than the page.") from None
