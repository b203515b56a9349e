"""A time of day as a keeper writes it, on the clock of the site."""

import re
from datetime import time
from typing import Any

from config.errors import StatedError


def read_time_of_day(stated: Any) -> time:
    """Read hours and minutes, such as "07:30" or a local time of TOML. Raises StatedError for anything else."""
    if isinstance(stated, time) and stated.tzinfo is None:
        return stated
    found = re.fullmatch(r"([01]\d|2[0-3]):([0-5]\d)", stated, re.ASCII) if isinstance(stated, str) else None
    if found is None:
        raise StatedError("this is not a time of day", 'Write hours and minutes in quotes, "00:00" to "23:59".')
    return time(int(found[1]), int(found[2]))
