"""Texts made to fit. Pure."""

import re

_A_FIGURE = re.compile(r"[-+±~<>]?\d+(?:[.,]\d+)*")
_BEGUN_FIGURE = re.compile(r"(?<!\S)[-+±~<>]?\d[\d.,]*$")


def shortened(name: str, room: int) -> str:
    """Give a name of at most so many letters, as much of it as there is room for."""
    return name if len(name) <= room else f"{name[: max(room - 1, 0)].rstrip()}…"


def shortened_place(place: str, room: int) -> str:
    """Give a place of at most so many letters: without its middle, then its first part alone, then cut."""
    parts = place.split(", ")
    fitting = (each for each in (place, f"{parts[0]}, {parts[-1]}", parts[0]) if len(each) <= room)
    return next(fitting, shortened(parts[0], room))


def shortened_words(text: str, room: int) -> str:
    """Give a sentence of at most so many letters, cut between words where that leaves most of it.

    Never within a figure, and never between a figure and its unit: 0.0 for 0.05 would be another value.
    """
    if len(text) <= room:
        return text
    words = text[: max(room, 0)].split(" ")[:-1]
    while words and _A_FIGURE.fullmatch(words[-1]):
        words.pop()
    told = " ".join(words).rstrip(" ,;:.")
    cut = shortened(text, room)
    return f"{told}…" if 2 * len(told) > len(cut) else f"{_before_figure(cut.removesuffix('…'))}…"


def _before_figure(cut: str) -> str:
    """Take off a figure that the cut leaves without its end, or without its unit."""
    begun = _BEGUN_FIGURE.search(cut)
    return cut if begun is None else cut[: begun.start()].rstrip(" ,;:.")
