"""What somebody typed into a form when their session or their password's quarter of an hour had run out. Pure.

It goes along, through the page that asks for the password, to a page that sends it. Nothing secret does, and no file:
a browser gives one only where somebody chooses it.
"""

import binascii
import zlib
from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlencode

from dashboards.access.local_path import local_path

KEPT, KEPT_TO, KEPT_AGAIN, KEPT_FILES = "kept", "kept_to", "kept_again", "kept_files"
MOST_BYTES = 65_536
"""As it is sent: no form of these pages may be larger."""
MOST_PACKED = 60_000
"""So much of it fits into the form of sign-in. Only a long text without any sense is larger than that."""
MOST_FIELDS = 250
_GUARD = "guard"
_SECRETS = {"password": "Password", "old": "Old password", "new": "New password", "again": "New password once more"}
_SECRETS |= {"code": "Code", "secret": "Secret", "address": "Address"}
_MOST_FILES = 5


@dataclass(frozen=True, slots=True)
class Carried:
    """A form on its way: where it goes, its fields, and the names of those to be typed again and of its files."""

    path: str
    fields: tuple[tuple[str, str], ...]
    again: tuple[str, ...] = ()
    files: tuple[str, ...] = ()

    @property
    def hidden(self) -> tuple[tuple[str, str], ...]:
        """The same as hidden fields of another form."""
        files = urlencode([(each, "") for each in self.files])
        return (
            (KEPT, _packed(self.fields)),
            (KEPT_TO, self.path),
            (KEPT_AGAIN, " ".join(self.again)),
            (KEPT_FILES, files),
        )

    @property
    def asked(self) -> tuple[tuple[str, str], ...]:
        """Name and label of each field that has to be typed again."""
        return tuple((name, _SECRETS[name]) for name in self.again)

    @property
    def shown(self) -> tuple[tuple[str, str], ...]:
        """What is sent, for people to look at before they press."""
        return tuple((name.replace("_", " ").replace("-", " "), value) for name, value in self.fields if value.strip())


def carried(path: str, body: bytes) -> tuple[Carried | None, str]:
    """Read a form as it was sent; None where there is nothing to carry, or too much. Gives its guard too."""
    return (None, "") if len(body) > MOST_BYTES else carried_fields(path, _parsed(body.decode("utf-8", "replace")))


def carried_fields(
    path: str, fields: Iterable[tuple[str, str]], files: Iterable[str] = ()
) -> tuple[Carried | None, str]:
    """The same of a form that was read already; `files`: the names of its fields that held a file."""
    found = list(fields)
    guard = next((value for name, value in reversed(found) if name == _GUARD), "")
    again = dict.fromkeys(name for name, value in found if name in _SECRETS and value.strip())
    kept = tuple((name, value) for name, value in found if name != _GUARD and name not in _SECRETS)
    chosen = tuple(dict.fromkeys(files))[:_MOST_FILES]
    if not (kept or chosen) or len(_packed(kept)) > MOST_PACKED:
        return None, guard
    return Carried(local_path(path), kept, tuple(again), chosen), guard


def carried_in(form: Mapping[str, str]) -> Carried | None:
    """Read one out of the hidden fields of another form; None where there is none."""
    if not form.get(KEPT_TO) or len(form.get(KEPT, "")) > MOST_PACKED:
        return None
    again = tuple(name for name in dict.fromkeys(form.get(KEPT_AGAIN, "").split()) if name in _SECRETS)
    files = tuple(name for name, _ in _parsed(form.get(KEPT_FILES, ""))[:_MOST_FILES])
    fields = _parsed(_unpacked(form.get(KEPT, "")))
    kept = tuple(each for each in fields if each[0] != _GUARD and each[0] not in _SECRETS)
    return Carried(local_path(form[KEPT_TO]), kept, again, files) if kept or files else None


def _packed(fields: Iterable[tuple[str, str]]) -> str:
    """Made small, and of such signs that a form sends each as one."""
    return urlsafe_b64encode(zlib.compress(urlencode(list(fields)).encode(), 6)).decode().rstrip("=")


def _unpacked(text: str) -> str:
    """Never more than a form may have, however small somebody made it; empty where it is none of ours."""
    try:
        data = urlsafe_b64decode(text + "=" * (-len(text) % 4))
        unpacker = zlib.decompressobj()
        found = unpacker.decompress(data, MOST_BYTES + 1)
    except (binascii.Error, ValueError, zlib.error):
        return ""
    return "" if len(found) > MOST_BYTES or not unpacker.eof else found.decode("ascii", "replace")


def _parsed(text: str) -> list[tuple[str, str]]:
    try:
        return parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS)
    except ValueError:
        return []
