"""How fields of the register's forms are read, and how a refusal of the register is told beside them. Pure."""

import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from types import MappingProxyType
from zoneinfo import ZoneInfo

from daemon.clutches.errors import Refusal, RegisterError
from daemon.clutches.sheet_cells import day_end_of
from dashboards import figures
from dashboards.setup_forms import FormView, Read, Typed

SEEN = "seen"
"""The field of a refusal of what was sent from an older page."""
_LONGEST_TEXT = 2_000
_MOST_NAMED = 6
_MOMENT = re.compile(r"\b(at )?(\d{4}-\d\d-\d\d \d\d:\d\d)\b")
_FIELDS = {"laid": "laid_from", "eggs": "which", "number": "", "who": ""}
"""Where on a form the register's own name of a field was typed; others have the same name in both."""
_SAID_ON_PAGES = (
    ("--rest", "Say below what became of all the others, or correct the numbers."),
    ("clutch edit --eggs", "Check the numbers. Where more eggs were laid than entered, correct that first."),
    ("clutchwarden clutch reopen", "If that was a mistake, a keeper opens it again at the page of the clutch."),
    ("clutchwarden clutch show", "Load the page again: it may have been taken back already."),
    ("Example: removed:mould", "Choose one."),
    ("take it back first: event", "If that was a mistake, open that egg and press “Take it back” there first."),
)
"""Hints that name a command, and what to do at a page instead."""


class Reads(Read):
    """Reads fields, and gathers what is wrong with them."""

    def long(self, name: str) -> str:
        """Read a text of several lines."""
        text = self._fields.get(name, "").replace("\r\n", "\n").strip()
        if len(text) > _LONGEST_TEXT:
            self.wrong(name, f"This is longer than {_LONGEST_TEXT} characters; write it shorter.")
        return text

    def whole(self, name: str) -> int | None:
        """Read a whole number; None where it is empty or none."""
        text = "".join(self._fields.get(name, "").split())
        if not text:
            return None
        longest = 6
        if text.startswith("-") and text[1:].isdecimal():
            self.wrong(name, "A number below 0 cannot be. Write it with digits, such as 9.")
            return None
        if not (text.isascii() and text.isdigit() and len(text) <= longest):
            self.wrong(name, "This is not a whole number. Write it with digits, such as 9.")
            return None
        return int(text)

    def day_end(self, name: str, zone: ZoneInfo) -> int | None:
        """Read a moment as UTC ms; of a date alone it is the end of that day."""
        text = self._fields.get(name, "").strip()
        if not text:
            return None
        try:
            return day_end_of(text, name, zone)
        except RegisterError:
            self.wrong(name, "This is not a date. Write one such as 2026-05-03.")
        except (OverflowError, ValueError):
            self.wrong(name, "This date cannot be. Write one such as 2026-05-03.")
        return None

    def species(self, name: str, known: Mapping[str, str]) -> str:
        """Read a species: what is shown of it, its id, or any part of its names that no other one has."""
        text = self.text(name)
        wanted = text.casefold()
        if not wanted:
            return ""
        for species_id, shown in known.items():
            if wanted in (species_id.casefold(), shown.casefold()):
                return species_id
        found = [species_id for species_id, shown in known.items() if wanted in shown.casefold()]
        if len(found) == 1:
            return found[0]
        names = "; ".join(known[each] for each in found[:_MOST_NAMED])
        more = f" and {len(found) - _MOST_NAMED} more" if len(found) > _MOST_NAMED else ""
        if found:
            self.wrong(name, f"This fits {len(found)} species: {names}{more}. Write more of the name.")
        else:
            self.wrong(
                name, "No species has this in its names. They are listed under Set-up, Species; own ones can be added."
            )
        return ""


def shown_number(value: float | None, factor: float, shift: float = 0.0) -> str:
    """Write a number as a field shows it; empty for none."""
    return "" if value is None else f"{value * factor + shift:.2f}".rstrip("0").rstrip(".")


def refused(
    wanted: str,
    fields: Mapping[str, str],
    refusal: Refusal,
    others: Mapping[str, str] = MappingProxyType({}),
    places: Mapping[str, str] = MappingProxyType({}),
) -> Typed:
    """Tell a refusal beside the field that it is about, where the form has it; else above the form.

    `others`: where else this form has a field of the register, by the register's name of it. `places`: names of places
    by their ids.
    """
    name = {**_FIELDS, **others}.get(refusal.field, refusal.field)
    told = told_at_a_page(refusal, places)
    if name and name in fields:
        return Typed(wanted, fields, {name: told})
    return Typed(wanted, fields, error=told)


def told_at_a_page(refusal: Refusal, places: Mapping[str, str] = MappingProxyType({})) -> str:
    """Give a refusal in sentences: moments, places and what to do as pages have them, instead of commands."""
    hint = next((instead for word, instead in _SAID_ON_PAGES if word in refusal.hint), refusal.hint)
    reason = _MOMENT.sub(_in_words, refusal.reason)
    # An incubator alone has an id that is mostly a word of the language as well.
    known = "|".join(re.escape(each) for each in sorted(places, key=len, reverse=True) if "/" in each)
    if known:
        reason = re.sub(rf"(?<![\w/])(?:{known})(?![\w/])", lambda found: places[found[0]], reason)
    return f"{reason[:1].upper()}{reason[1:]}. {hint}"


def _in_words(found: re.Match[str]) -> str:
    """A moment as the register writes it, as pages do; of the start or the end of a day its date is enough."""
    moment = datetime.fromisoformat(found[2])
    is_date = moment.strftime("%H:%M") in ("00:00", "23:59")
    return ("on " if found[1] else "") + (figures.full_date_text(moment) if is_date else figures.moment_text(moment))


def is_outdated(refusal: Refusal) -> bool:
    """True where what was sent came from a page that is older than the clutch."""
    return refusal.field == SEEN


def left_over(typed: Typed | None, forms: Iterable[FormView]) -> str:
    """Give what is wrong with a form that the page does not have any more, to be told above the others."""
    if typed is None or any(form.wanted == typed.wanted for form in forms):
        return ""
    return " ".join((typed.error, *typed.errors.values())).strip()
