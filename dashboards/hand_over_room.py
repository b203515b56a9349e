"""How much has room on one sheet of A4 or Letter. Pure.

Rows are counted by characters, as the print rules of `sheet.css` set them in two columns. The figures are this
project's choice, and a test prints the fullest sheet there is on both papers.
"""

from collections.abc import Sequence

from dashboards.hand_over_lines import Line

ROWS = 100
"""Of a column and of the other one, beside what stands on every sheet."""
ROW, WIDE_ROW = 56, 112
"""Characters in a row of a column, and across both."""
AT_LEAST = 2
"""So many lines each part has before any part has more."""


def rows_of(line: Line) -> int:
    """Give how many rows a line takes."""
    word = "" if line.mark is None else f"[] {line.mark.word} "
    return -(-len(f"{word}{line.name}: {line.text}") // ROW)


def room_beside(note: str, across: Sequence[str]) -> int:
    """Give the rows that are left beside the keeper's own words and what stands across both columns."""
    own = sum(max(1, -(-len(line) // ROW)) for line in note.split("\n"))
    return ROWS - own - sum(2 * -(-len(each) // WIDE_ROW) for each in across)


def chosen(parts: Sequence[Sequence[Line]], room: int) -> list[int]:
    """Give how many lines of each part are shown: a few of each, then one more of each in turn while there is room."""
    shown = [min(AT_LEAST, len(lines)) for lines in parts]
    left = room - sum(rows_of(line) for lines, count in zip(parts, shown, strict=True) for line in lines[:count])
    is_going_on = True
    while is_going_on:
        is_going_on = False
        for number, lines in enumerate(parts):
            if shown[number] < len(lines) and rows_of(lines[shown[number]]) <= left:
                left -= rows_of(lines[shown[number]])
                shown[number] += 1
                is_going_on = True
    return shown
