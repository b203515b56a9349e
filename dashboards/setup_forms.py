"""Forms of the set-up: what they ask, what was typed, and how it is read. Pure."""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

from config.errors import StatedError
from daemon.local_moments import stated_end_ms, stated_ms
from dashboards import figures
from dashboards.alarm_forms import LONGEST_TEXT, Field

__all__ = ["Field", "FormView", "Read", "Typed", "filled", "moment_value"]

_MOMENT_PATTERN = "%Y-%m-%dT%H:%M"


@dataclass(frozen=True, slots=True)
class FormView:
    """One form. `wanted` names it on the page and is the value of its button; `small` are fields that few need.

    `is_open` shows it without a touch, `error` is what is wrong with the whole of it.
    """

    wanted: str
    action: str
    heading: str
    button: str
    explained: str
    fields: tuple[Field, ...]
    small: tuple[Field, ...] = ()
    hidden: tuple[tuple[str, str], ...] = ()
    is_open: bool = False
    error: str = ""

    @property
    def small_is_open(self) -> bool:
        """True where something is wrong in the fields that few need."""
        return any(each.error for each in self.small)


@dataclass(frozen=True, slots=True)
class Typed:
    """What was sent and refused: the fields as they were typed, what is wrong with each, and with the whole."""

    wanted: str
    fields: Mapping[str, str]
    errors: Mapping[str, str] = field(default_factory=dict)
    error: str = ""


def filled(form: FormView, typed: Typed | None) -> FormView:
    """Give a form as it was sent, where it was the one that was refused."""
    if typed is None or typed.wanted != form.wanted:
        return form
    fields, small = (_as_typed(each, typed) for each in (form.fields, form.small))
    return replace(form, fields=fields, small=small, is_open=True, error=typed.error)


def chosen(form: FormView, values: Mapping[str, str]) -> FormView:
    """Fill in what is known beforehand, where the form has such fields and nothing stands there yet."""

    def known(each: Field) -> Field:
        return replace(each, value=each.value or values.get(each.name, ""))

    return replace(form, fields=tuple(known(each) for each in form.fields))


def moment_value(moment_ms: int, zone: ZoneInfo) -> str:
    """Write a moment as a field for a date and a time takes it."""
    return figures.local(moment_ms, zone).strftime(_MOMENT_PATTERN)


def _as_typed(fields: Iterable[Field], typed: Typed) -> tuple[Field, ...]:
    return tuple(
        # An address is a secret: it is never sent back, so it has to be typed again.
        replace(
            each,
            value="" if each.kind == "secret" else typed.fields.get(each.name, ""),
            error=typed.errors.get(each.name, ""),
        )
        for each in fields
    )


class Read:
    """Reads fields, and gathers what is wrong with them."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        self._fields = fields
        self.errors: dict[str, str] = {}

    def wrong(self, name: str, why: str) -> None:
        """Say what is wrong with a field; what was said first stays."""
        self.errors.setdefault(name, why)

    def text(self, name: str, missing: str = "") -> str:
        """Read a text on one line; where `missing` says what to write, it must not be empty."""
        text = " ".join(self._fields.get(name, "").split())
        if missing and not text:
            self.wrong(name, missing)
        elif len(text) > LONGEST_TEXT:
            self.wrong(name, f"This is longer than {LONGEST_TEXT} characters; write it shorter.")
        return text

    def number(self, name: str, missing: str = "", read: Callable[[float], float] = float) -> float | None:
        """Read a number, with a point or a comma; None where it is empty or none. `read` makes it canonical."""
        text = "".join(self._fields.get(name, "").split())
        if not text:
            if missing:
                self.wrong(name, missing)
            return None
        try:
            found = float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
        except ValueError:
            found = math.nan
        if not math.isfinite(found):
            self.wrong(name, "This is not a number. Write it with digits, such as 29.9.")
            return None
        return read(found)

    def moment(self, name: str, zone: ZoneInfo, missing: str = "", *, is_end: bool = False) -> int | None:
        """Read a date, with or without a time, as UTC ms; None where it is empty or none.

        A date alone is the start of that day, or its end where `is_end`.
        """
        text = self._fields.get(name, "").strip()
        if not text:
            if missing:
                self.wrong(name, missing)
            return None
        try:
            return stated_end_ms(text, zone) if is_end else stated_ms(text, zone)
        except StatedError as error:
            self.wrong(name, sentence(error))
        except (OverflowError, ValueError):
            self.wrong(name, "This date cannot be. Write one such as 2026-05-03 14:30.")
        return None

    def choice(self, name: str, options: Iterable[tuple[str, str]], missing: str = "") -> str:
        """Read one of several values; empty where none was chosen."""
        chosen = self._fields.get(name, "")
        if chosen and chosen not in dict(options):
            self.wrong(name, "That is not in the list any more; choose again.")
            return ""
        if missing and not chosen:
            self.wrong(name, missing)
        return chosen

    def ticked(self, name: str) -> bool:
        """Tell whether a box was ticked."""
        return self._fields.get(name, "") == "yes"


def sentence(error: StatedError) -> str:
    """Give what a rule refuses, and what to do, as people read them."""
    reason, hint = error.reason.rstrip("."), error.hint
    told = f"{reason[:1].upper()}{reason[1:]}."
    return f"{told} {hint[:1].upper()}{hint[1:].rstrip('.')}." if hint else told
