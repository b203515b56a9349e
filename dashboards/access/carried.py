"""What somebody typed into a form when their session or their password's quarter of an hour had run out. Pure.

It goes along, through the page that asks for the password, to a page that sends it. Nothing secret does.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlencode

from dashboards.access.local_path import local_path

KEPT, KEPT_TO, KEPT_AGAIN = "kept", "kept_to", "kept_again"
MOST_BYTES = 5_000
"""As it is sent: written once more as one field, at three bytes for one, it fits into the form of sign-in."""
_MOST_AGAIN = 3 * MOST_BYTES
_GUARD = "guard"
_SECRETS = {"password": "Password", "old": "Old password", "new": "New password", "again": "New password once more"}
_SECRETS |= {"code": "Code", "secret": "Secret", "address": "Address"}
_MOST_FIELDS = 250


@dataclass(frozen=True, slots=True)
class Carried:
    """A form on its way: where it goes, its fields, and the names of those that have to be typed again."""

    path: str
    fields: tuple[tuple[str, str], ...]
    again: tuple[str, ...] = ()

    @property
    def hidden(self) -> tuple[tuple[str, str], ...]:
        """The same as hidden fields of another form."""
        return ((KEPT, urlencode(self.fields)), (KEPT_TO, self.path), (KEPT_AGAIN, " ".join(self.again)))

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
    if len(body) > MOST_BYTES:
        return None, ""
    fields = _parsed(body.decode("utf-8", "replace"))
    guard = next((value for name, value in reversed(fields) if name == _GUARD), "")
    again = dict.fromkeys(name for name, value in fields if name in _SECRETS and value.strip())
    kept = tuple((name, value) for name, value in fields if name != _GUARD and name not in _SECRETS)
    return (Carried(local_path(path), kept, tuple(again)) if kept else None), guard


def carried_in(form: Mapping[str, str]) -> Carried | None:
    """Read one out of the hidden fields of another form; None where there is none."""
    if not form.get(KEPT_TO) or len(form.get(KEPT, "")) > _MOST_AGAIN:
        return None
    again = tuple(name for name in dict.fromkeys(form.get(KEPT_AGAIN, "").split()) if name in _SECRETS)
    kept = tuple(each for each in _parsed(form.get(KEPT, "")) if each[0] != _GUARD and each[0] not in _SECRETS)
    return Carried(local_path(form[KEPT_TO]), kept, again) if kept else None


def _parsed(text: str) -> list[tuple[str, str]]:
    try:
        return parse_qsl(text, keep_blank_values=True, max_num_fields=_MOST_FIELDS)
    except ValueError:
        return []
