"""Why the register refuses a change. Pure: moments stay values until an edge words them in the zone of the site."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Self


@dataclass(frozen=True, slots=True)
class At:
    """A moment (UTC ms) inside a text for people."""

    ms: int


Said = str | Sequence[str | At]
"""A text, or its parts where moments stand in it."""


class RegisterError(Exception):
    """The register refuses a change: the reason, what to do instead, and which field of a form it is about, if one.

    Moments in the reason are worded in UTC unless `told_in` has given a zone.
    """

    def __init__(self, reason: Said, hint: str, field: str = "", zone: tzinfo = UTC) -> None:
        super().__init__(reason, hint)
        self._said = reason
        self._zone = zone
        self.hint = hint
        self.field = field

    @property
    def reason(self) -> str:
        """Why not, without a full stop."""
        parts = (self._said,) if isinstance(self._said, str) else self._said
        return "".join(part if isinstance(part, str) else when(part.ms, self._zone) for part in parts)

    def told_in(self, zone: tzinfo) -> Self:
        """Give the same refusal with its moments as people in this zone read them."""
        return type(self)(self._said, self.hint, self.field, zone)

    def __str__(self) -> str:
        return f"{self.reason}. {self.hint}"


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why nothing was changed, what to do instead, and the field of a form that it is about; empty for none."""

    reason: str
    hint: str
    field: str = ""

    def __str__(self) -> str:
        return f"{self.reason}. {self.hint}"


def when(moment_ms: int, zone: tzinfo) -> str:
    """Word a moment as `2026-05-03 14:30`; with the zone where that is UTC."""
    try:
        local = datetime.fromtimestamp(moment_ms / 1000, zone)
    except (ValueError, OverflowError, OSError):
        # A cell can name a moment that is in no year of the calendar any more once it is put into another zone.
        return "a time before the year 1" if moment_ms < 0 else "a time after the year 9999"
    return local.replace(tzinfo=None).isoformat(" ", "minutes") + (" UTC" if zone is UTC else "")
