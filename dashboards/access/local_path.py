"""Where a visitor wanted to go before they had to sign in: a path of our own, or the first page. Pure."""

import re
from urllib.parse import quote

from dashboards.access.policy import SIGN_IN_PATH, SIGN_OUT_PATH, WELCOME_PATH

LONGEST = 1_000
_LOCAL = re.compile(r"/(?!/)[!-\[\]-~]*")
"""A slash, no second one, and visible ASCII without a backslash: browsers read that as a slash, and skip tabs."""


def local_path(asked: str) -> str:
    """Give the path where it is one of ours, else that of the first page: nobody is sent to another site."""
    is_ours = len(asked) <= LONGEST and _LOCAL.fullmatch(asked) is not None
    return asked if is_ours and not asked.startswith((SIGN_IN_PATH, SIGN_OUT_PATH, WELCOME_PATH)) else "/"


def with_way_back(path: str, to: str) -> str:
    """Add to the path of a page where to go afterwards."""
    wanted = local_path(to)
    return path if wanted == "/" else f"{path}?to={quote(wanted, safe='/')}"
