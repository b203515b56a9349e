"""Pure: what can be true of a clutch, whatever else is on record. Times are UTC ms."""

import unicodedata
from collections.abc import Iterable

from daemon.clutches.errors import At, RegisterError
from daemon.clutches.values import NewClutch
from daemon.storage.text import storable

LONGEST_LABEL = 60
LONGEST_NAME = 200
LONGEST_TEXT = 2000
_LONGEST_TAG, _MOST_TAGS = 40, 20
_MOST_EGGS = 500
"""Project choice: far above the largest clutch of any reptile, so that more is a slip of the keyboard."""
LONGEST_YEARS = 3
"""Between laying and end (or now) of a clutch. Project choice: no egg of a reptile is incubated much over two years."""
_YEAR_MS = 31_557_600_000
_FIRST_MS = -2_208_988_800_000
"""1900-01-01 UTC. Project choice: no book of a breeder that anybody types in is older."""
_COLDEST_C, _WARMEST_C, _LARGEST_U_K = 0.0, 45.0, 10.0


def text_of(text: str, longest: int = LONGEST_NAME) -> str:
    """Give a text as it is kept: without blanks around it, cut, and storable."""
    return storable(text.strip(), longest).strip()


def tags_of(tags: Iterable[str]) -> tuple[str, ...]:
    """Give tags as they are kept, each once. Raises RegisterError for one that cannot stand in a list."""
    found = tuple(dict.fromkeys(tag.strip() for tag in tags if tag.strip()))
    for tag in found:
        if len(tag) > _LONGEST_TAG or not tag.isprintable() or ";" in tag or "," in tag:
            reason = f"the tag {tag[:_LONGEST_TAG]!r} is too long, or has a comma, a semicolon or a line break in it"
            raise RegisterError(reason, f"Give short words, at most {_LONGEST_TAG} letters each.", "tags")
    if len(found) > _MOST_TAGS:
        raise RegisterError(f"{len(found)} tags are more than anybody reads", f"Give {_MOST_TAGS} at most.", "tags")
    return found


def label_of(label: str) -> str:
    """Give a label as it is kept. Raises RegisterError where it is none."""
    label = unicodedata.normalize("NFC", label.strip())
    wrong = "is empty" if not label else ""
    if len(label) > LONGEST_LABEL:
        wrong = f"is too long, {len(label)} letters"
    elif not label.isprintable():
        wrong = "has a sign in it that nobody sees"
    if wrong:
        raise RegisterError(
            f"the label {wrong}", f"Give what stands on the box, up to {LONGEST_LABEL} letters.", "label"
        )
    return label


def refuse_nobody(who: str) -> None:
    """Raise RegisterError where nobody is named."""
    if not who.strip():
        raise RegisterError("nobody is named for this change", "Say who makes it.", "who")


def refuse_future(what: str, moment_ms: int, now_ms: int, field: str = "at") -> None:
    """Raise RegisterError for what has not happened yet."""
    if moment_ms > now_ms:
        raise RegisterError(
            (f"the {what} at ", At(moment_ms), " is in the future"),
            "Enter it when it is done; check the clock as well.",
            field,
        )


def refuse_egg_count(label: str, egg_count: int) -> None:
    """Raise RegisterError for a number of eggs that no clutch has."""
    if egg_count < 1:
        raise RegisterError(
            f"{label}: {egg_count} eggs are not a clutch", "Give the number of eggs, at least 1.", "egg_count"
        )
    if egg_count > _MOST_EGGS:
        raise RegisterError(
            f"{label}: {egg_count} eggs are more than any clutch has", f"Give {_MOST_EGGS} at most.", "egg_count"
        )


def refuse_unlikely(new: NewClutch, now_ms: int, closed_at_ms: int | None = None) -> None:
    """Raise RegisterError for what cannot be true of a clutch."""
    label = label_of(new.label)
    refuse_egg_count(label, new.egg_count)
    refuse_long_ago(label, min(new.laid_from_ms, new.from_ms), now_ms, closed_at_ms)
    refuse_dates(label, (new.laid_from_ms, new.laid_to_ms), new.found_ms, new.from_ms, now_ms)
    refuse_warmth(label, new.before_c, new.before_u_k)


def refuse_long_ago(label: str, first_ms: int, now_ms: int, closed_at_ms: int | None = None) -> None:
    """Raise RegisterError for a clutch that would lie there for years: a slip of the keyboard in the year.

    Its heat is worked out for every hour since. What ended long ago may be entered with its end.
    """
    if first_ms < _FIRST_MS:
        raise RegisterError(
            (f"{label}: ", At(first_ms), " is before 1900"), "Is the year right? Give it with all four digits.", "laid"
        )
    if (now_ms if closed_at_ms is None else closed_at_ms) - first_ms <= LONGEST_YEARS * _YEAR_MS:
        return
    until = ("now",) if closed_at_ms is None else ("its end at ", At(closed_at_ms))
    raise RegisterError(
        (f"{label}: from ", At(first_ms), " until ", *until, f" it is more than {LONGEST_YEARS} years"),
        "Is the year right? No egg of a reptile is incubated that long.",
        "laid",
    )


def refuse_dates(label: str, laid_ms: tuple[int, int], found_ms: int | None, set_up_ms: int, now_ms: int) -> None:
    """Raise RegisterError for moments of laying, finding and setting up that are not in this order, or to come."""
    first_ms, last_ms = laid_ms
    if max(laid_ms) > now_ms:
        raise RegisterError(
            (f"{label}: laid at ", At(max(laid_ms)), " is in the future"),
            "Check the date, and the clock of this computer.",
            "laid",
        )
    if first_ms > last_ms:
        raise RegisterError(
            (f"{label}: laid between ", At(first_ms), " and ", At(last_ms), " ends before it begins"),
            "Give the earlier date first.",
            "laid",
        )
    refuse_future("setting up", set_up_ms, now_ms, "set_up")
    if set_up_ms < first_ms:
        raise RegisterError(
            (f"{label}: set up at ", At(set_up_ms), ", before it can have been laid (", At(first_ms), ")"),
            "Check both dates.",
            "set_up",
        )
    if found_ms is None:
        return
    refuse_future("finding", found_ms, now_ms, "found")
    if found_ms < first_ms:
        raise RegisterError(
            (f"{label}: found at ", At(found_ms), ", before it can have been laid (", At(first_ms), ")"),
            "Check both dates.",
            "found",
        )


def refuse_warmth(label: str, before_c: float | None, before_u_k: float | None) -> None:
    """Raise RegisterError for a temperature (°C) before the set-up that eggs are not kept at."""
    if before_c is not None and not _COLDEST_C <= before_c <= _WARMEST_C:
        stated, *ends = (f"{value_c * 1.8 + 32:.1f} °F" for value_c in (before_c, _COLDEST_C, _WARMEST_C))
        raise RegisterError(
            f"{label}: {before_c:.1f} °C ({stated}) before the set-up is not what eggs were kept at",
            f"Give {_COLDEST_C:g} to {_WARMEST_C:g} °C, which is {' to '.join(ends)}.",
            "kept_at",
        )
    if before_u_k is not None and (before_c is None or not 0 <= before_u_k <= _LARGEST_U_K):
        stated = f"{before_u_k:.3g} °C ({before_u_k * 1.8:.3g} °F)"
        raise RegisterError(
            f"{label}: {stated} either way says nothing of how warm the eggs lay",
            f"Give 0 to {_LARGEST_U_K:g} °C (0 to {_LARGEST_U_K * 1.8:g} °F), together with the temperature.",
            "kept_within",
        )


def label_key(label: str) -> str:
    """Give what labels have in common that people take for the same, whatever the capitals and the form of accents."""
    return unicodedata.normalize("NFC", label.strip()).casefold()
