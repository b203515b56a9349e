"""Pure: the account of a period as plain text, for a terminal."""

import textwrap
from collections.abc import Iterator

from daemon.review.account import Line, LineKind, Review

_WIDTH = 100
KIND_WORDS = {
    LineKind.SAMPLE: "reading",
    LineKind.GAP: "gap",
    LineKind.POWER: "power",
    LineKind.LINK: "link",
    LineKind.SERVICE: "service",
    LineKind.CLOCK: "clock",
    LineKind.ALARM: "alarm",
    LineKind.PERSON: "person",
    LineKind.MESSAGE: "message",
    LineKind.DOOR: "door",
    LineKind.ROUND: "round",
    LineKind.CHANGE: "change",
}
_PARTS = ("cause", "action", "outcome", "prevention")


def account_text(review: Review) -> str:
    """Write all of it."""
    return "\n".join(_lines(review))


def _lines(review: Review) -> Iterator[str]:
    yield f"{review.site_name}: {review.heading}"
    yield f"What is looked at: {review.period_text}"
    yield f"Made {review.made_text}"
    if review.incident is not None and review.asked_number != review.incident.incident_id:
        yield f"Incident {review.asked_number} is part of incident {review.incident.incident_id} now."
    if review.is_going_on:
        yield "It is not over: this is what is known so far."
    yield ""
    yield from _wrapped(" ".join(review.summary))
    if review.incident is not None:
        yield from _section("What speaks for the cause", review.incident.evidence)
    yield from _section(
        "What to do now",
        [f"{f'{each.about}: ' if each.about else ''}{each.text} [{each.source}]" for each in review.todo],
    )
    for names, words in _places(review).items():
        yield from _section(names, words)
    yield from _section("The room", [review.room] if review.room else [])
    for clutch in review.clutches:
        yield from _section(f"Clutch {clutch.review.label}", clutch.words)
    told = [line.words for line in review.told] or ["Nobody was told anything in this time."]
    yield from _section("What was told to whom", told)
    yield from _section("How long this program itself saw nothing", [review.blind.words])
    yield from _section("Timeline", [_line(each) for each in review.timeline] or ["Nothing is on record."])
    yield from _section("Earlier in the same places", review.earlier)
    yield from _section("What is not known", review.not_known)
    yield from _section("What the keeper says", list(_notes(review)))
    if review.chain_code:
        yield from _section("Code of the journal", [f"{review.chain_code} (clutchwarden verify --head looks for it)"])


def _section(heading: str, lines: tuple[str, ...] | list[str]) -> Iterator[str]:
    if not lines:
        return
    yield ""
    yield heading
    for line in lines:
        yield from _wrapped(line, "- ")


def _places(review: Review) -> dict[str, tuple[str, ...]]:
    """Places of which the same is said are told of once."""
    same: dict[tuple[str, ...], list[str]] = {}
    for place in review.places:
        same.setdefault(place.words, []).append(place.review.name)
    return {"; ".join(names): words for words, names in same.items()}


def _wrapped(text: str, mark: str = "") -> Iterator[str]:
    yield from textwrap.wrap(
        text, _WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark), break_on_hyphens=False
    )


def _line(line: Line) -> str:
    where = f"{line.place_name}: " if line.place_name else ""
    return f"{line.at_text}  {KIND_WORDS[line.kind]}  {where}{line.words}"


def _notes(review: Review) -> Iterator[str]:
    if review.incident is None:
        return
    for part in _PARTS:
        said = [note for note in review.notes if note.field == part]
        if not said:
            yield f"{part.capitalize()}: not written yet"
            continue
        yield f"{part.capitalize()}: {said[-1].text} ({said[-1].who}, {said[-1].at_text})"
        yield from (
            f"{part.capitalize()} as it stood before: {old.text} ({old.who}, {old.at_text})" for old in said[:-1]
        )
