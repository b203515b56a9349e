"""Addresses of the pages by which people change the register, of boxes and of labels. Pure."""

from collections.abc import Iterable
from urllib.parse import quote, urlencode

CLUTCHES_PATH = "/clutches"
NEW_PATH = f"{CLUTCHES_PATH}/new"
TABLE_PATH = f"{CLUTCHES_PATH}/table"
TAKE_IN_PATH = f"{TABLE_PATH}/take-in"
EMPTY_PATH = f"{TABLE_PATH}/empty.csv"
EXPORT_PATH, EXPORT_EGGS_PATH = f"{TABLE_PATH}/clutches.csv", f"{TABLE_PATH}/clutches-with-eggs.csv"
BOXES_PATH = "/boxes"
LABELS_PATH = "/labels"
SHEET_PATH = f"{LABELS_PATH}/sheet"
ONE_LABEL = "a4-2x5"
"""The sheet that a single label is printed on, where nobody chooses another."""


def new_path(place: str = "", species_id: str = "") -> str:
    """Give the address of the form for a new clutch, with place and species filled in where they are given."""
    given = {name: value for name, value in (("place", place), ("species", species_id)) if value}
    return f"{NEW_PATH}?{urlencode(given)}" if given else NEW_PATH


def clutch_path(clutch_id: int, what: str = "") -> str:
    """Give the address of a clutch, or of a part of it: `edit`, `move`, `eggs`, `eggs/3`, ..."""
    return f"{CLUTCHES_PATH}/{clutch_id}" + (f"/{what}" if what else "")


def box_path(place: str) -> str:
    """Give the address of a box, a shelf or an incubator: what a label leads to."""
    return f"{BOXES_PATH}/{quote(place, safe='/')}"


def sheet_path(keys: Iterable[str], size: str) -> str:
    """Give the address of a sheet of labels."""
    return f"{SHEET_PATH}?{urlencode([('size', size), *(('on', key) for key in keys)])}"


def number_of(text: str) -> int | None:
    """Read the number of a clutch or an egg from an address; None where it is none."""
    longest = 12
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= longest else None
