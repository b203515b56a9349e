"""A form that comes too late: read for what was typed into it alone. Files in it are taken in and thrown away."""

from python_multipart.exceptions import FormParserError
from python_multipart.multipart import MultipartParser, parse_options_header
from starlette.requests import Request

from dashboards.access.carried import MOST_BYTES, MOST_FIELDS, Carried, carried, carried_fields
from dashboards.forms import FORM_TYPE

MOST_HEARD_BYTES = 25_000_000
"""Of a form with a file: whoever sent more has to begin anew, so that nobody keeps the pages busy from outside."""
_UPLOAD = "multipart/form-data"


async def late_form(request: Request) -> tuple[Carried | None, str]:
    """Give what was typed, and the guard of the form; None where there is nothing to carry, or too much."""
    kind, options = parse_options_header(request.headers.get("content-type", ""))
    if kind == FORM_TYPE.encode():
        return await _plain(request)
    if kind == _UPLOAD.encode() and options.get(b"boundary"):
        return await _with_files(request, options[b"boundary"])
    return None, ""


async def _plain(request: Request) -> tuple[Carried | None, str]:
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > MOST_BYTES:
            return None, ""
    return carried(request.scope["path"], bytes(body))


async def _with_files(request: Request, boundary: bytes) -> tuple[Carried | None, str]:
    parts = _Parts()
    try:
        parser = MultipartParser(
            boundary,
            {
                "on_part_begin": parts.begin,
                "on_header_field": parts.header_name,
                "on_header_value": parts.header_value,
                "on_header_end": parts.header_end,
                "on_part_data": parts.data,
                "on_part_end": parts.end,
            },
            MOST_HEARD_BYTES,
        )
        heard = 0
        async for piece in request.stream():
            heard += len(piece)
            parser.write(piece)
            if parts.is_too_much or heard > MOST_HEARD_BYTES:
                return None, ""
    except FormParserError:
        return None, ""
    return carried_fields(request.scope["path"], parts.fields, parts.files)


class _Parts:
    """The parts of a form (RFC 7578) as the parser gives them, piece by piece."""

    def __init__(self) -> None:
        self.fields: list[tuple[str, str]] = []
        self.files: list[str] = []
        self.is_too_much = False
        self._held = 0
        self._header, self._value, self._text = b"", b"", bytearray()
        self._name, self._is_file = "", False

    def begin(self) -> None:
        """A part begins."""
        self._text, self._name, self._is_file = bytearray(), "", False
        self._header, self._value = b"", b""

    def header_name(self, data: bytes, start: int, end: int) -> None:
        """A piece of a header's name."""
        self._header += data[start:end]

    def header_value(self, data: bytes, start: int, end: int) -> None:
        """A piece of a header's value."""
        self._value += data[start:end]

    def header_end(self) -> None:
        """A header is whole."""
        if self._header.lower() == b"content-disposition":
            _, options = parse_options_header(self._value)
            self._name = options.get(b"name", b"").decode("utf-8", "replace")
            self._is_file = b"filename" in options
        self._header, self._value = b"", b""

    def data(self, data: bytes, start: int, end: int) -> None:
        """A piece of a part: kept where somebody typed it, and thrown away where it is a file."""
        if self._is_file or self.is_too_much:
            return
        self._held += end - start
        self.is_too_much = self._held > MOST_BYTES
        self._text += data[start:end]

    def end(self) -> None:
        """A part is whole."""
        if self._is_file:
            self.files.append(self._name)
        elif self._name:
            self.fields.append((self._name, self._text.decode("utf-8", "replace")))
        self.is_too_much = self.is_too_much or len(self.fields) + len(self.files) > MOST_FIELDS
