"""Addresses of incidents, their accounts, and of the account of any period. Pure."""

from urllib.parse import urlencode

INCIDENTS_PATH = "/incidents"
PERIOD_PATH = "/review"
LARGEST_NUMBER = 10**12


def incident_path(number: int, what: str = "") -> str:
    """Give the address of an incident, or of a part of it: `notes`, `sheet.html`."""
    return f"{INCIDENTS_PATH}/{number}" + (f"/{what}" if what else "")


def older_path(before: int) -> str:
    """Give the address of the incidents with smaller numbers."""
    return f"{INCIDENTS_PATH}?{urlencode({'before': before})}"


def period_path(since: str, until: str, what: str = "") -> str:
    """Give the address of the account of a period, both ends as a field for a date and a time has them."""
    return f"{PERIOD_PATH}{f'/{what}' if what else ''}?{urlencode({'since': since, 'until': until})}"


def number_of(text: str) -> int | None:
    """Read the number of an incident from an address; None where it is none."""
    is_short = text.isascii() and text.isdecimal() and len(text) <= len(str(LARGEST_NUMBER))
    return int(text) if is_short and 1 <= int(text) < LARGEST_NUMBER else None
