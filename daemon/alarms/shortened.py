"""Texts made to fit. Pure."""


def shortened(name: str, room: int) -> str:
    """Give a name of at most so many letters, as much of it as there is room for."""
    return name if len(name) <= room else f"{name[: max(room - 1, 0)].rstrip()}…"


def shortened_place(place: str, room: int) -> str:
    """Give a place of at most so many letters: without its middle, then its first part alone, then cut."""
    parts = place.split(", ")
    fitting = (each for each in (place, f"{parts[0]}, {parts[-1]}", parts[0]) if len(each) <= room)
    return next(fitting, shortened(parts[0], room))


def shortened_words(text: str, room: int) -> str:
    """Give a sentence of at most so many letters, cut between words where that leaves most of it."""
    whole = shortened(text, room)
    words = text[: max(room, 0)].rpartition(" ")[0].rstrip(" ,;:.")
    return f"{words}…" if whole != text and 2 * len(words) > len(whole) else whole
