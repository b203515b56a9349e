"""What the tests of the pages of calibrations send, and what they look at."""

import re

from tests.support.household import MINUTE_MS
from tests.support.upkept import AIR, UpkeptHouse, hidden, words

PATH = f"/set-up/calibration/{AIR}"
ONE_POINT = {"wanted": "one-point", "reference": "29.9", "reading": "30.2", "accuracy": "0.1"}
HOUR_MS = 60 * MINUTE_MS


def offer_of(html: str) -> str:
    """The part of a page that shows what would be stored."""
    found = re.search(r'<section id="offer".*?</section>', html, re.DOTALL)
    return found[0] if found else ""


def both_steps(house: UpkeptHouse, path: str, **fields: str) -> int:
    """Have it shown, and store what was shown."""
    shown = house.send(path, fields)
    assert shown.status_code == 200, words(shown.text)
    return house.send(path, {**hidden(offer_of(shown.text)), "wanted": fields["wanted"]}).status_code
