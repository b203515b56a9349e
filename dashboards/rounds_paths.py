"""Addresses of the pages of rounds. Pure.

A walk goes through the rounds of one incubator or of several: `/rounds/7`, `/rounds/7,8`.
"""

from collections.abc import Sequence
from urllib.parse import quote

ROUNDS_PATH = "/rounds"
ENTRIES_PATH = f"{ROUNDS_PATH}/entries"
PHOTOS_PATH = f"{ROUNDS_PATH}/photos"
WHO_PATH = f"{ROUNDS_PATH}/who"
WORKER_PATH = f"{ROUNDS_PATH}/worker.js"
MOST_ROUNDS = 40
_LONGEST_NUMBER = 12


def walk_path(numbers: Sequence[int]) -> str:
    """Give the address of the list of boxes of these rounds."""
    return f"{ROUNDS_PATH}/{','.join(str(each) for each in numbers)}"


def box_path(numbers: Sequence[int], key: str) -> str:
    """Give the address of one box of a walk."""
    return f"{walk_path(numbers)}/box/{quote(key, safe='/@')}"


def summary_path(numbers: Sequence[int]) -> str:
    """Give the address of what these rounds came to."""
    return f"{walk_path(numbers)}/summary"


def photo_path(photo_id: str) -> str:
    """Give the address of a photo: of the picture alone."""
    return f"{PHOTOS_PATH}/{quote(photo_id, safe='')}"


def photo_page_path(photo_id: str) -> str:
    """Give the address of the page that shows a photo."""
    return f"{photo_path(photo_id)}/page"


def numbers_in(text: str) -> tuple[int, ...]:
    """Read the numbers of a walk; none where the text is no address of one."""
    parts = text.split(",")
    if len(parts) > MOST_ROUNDS or not all(_is_number(each) for each in parts):
        return ()
    return tuple(dict.fromkeys(int(each) for each in parts))


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) <= _LONGEST_NUMBER
