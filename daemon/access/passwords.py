"""Which passwords are taken. Pure.

After NIST SP 800-63B-4 section 3.1.1 and OWASP ASVS 5.0, 6.2: length counts and nothing else is asked for; no common
ones; nothing is cut off; no password has to be changed because of its age.
"""

import re
import unicodedata
from collections.abc import Iterable

from daemon.access.values import Refused

FEWEST = 15
FEWEST_WITH_SECOND_FACTOR = 8
MOST = 256
"""Project choice; both sources ask for at least 64."""
_GOOD_SCORE = 3
"""Of zxcvbn's 0 to 4: more than 10^8 guesses."""
_JUDGED = 72
"""What zxcvbn looks at. Its time grows faster than the length, and what holds by then needs no more."""
_LONG_ENOUGH = 12
"""From so many characters on it is not for being short that a password is easily guessed."""
_PROGRAM = "clutchwarden"


def as_kept(password: str) -> str:
    """Give the one form of a password: two keyboards may send different code points for one letter (63B, NFC)."""
    return unicodedata.normalize("NFC", password)


def mistake_in(password: str, context: Iterable[str], *, has_second_factor: bool = False) -> Refused | None:
    """Say why this password is not taken; None where it is. `context`: names that somebody would try first."""
    password = as_kept(password)
    fewest = FEWEST_WITH_SECOND_FACTOR if has_second_factor else FEWEST
    if len(password) < fewest:
        return _refused(
            f"This has {len(password)} characters, and {fewest} are needed. Four or five words that have nothing to"
            " do with each other are easy to keep in mind; spaces may stand between them."
        )
    if len(password) > MOST:
        return _refused(f"This has {len(password)} characters, and {MOST} are the most. Take a shorter one.")
    if _score(password, context) < _GOOD_SCORE:
        return _refused(
            "This is one of the first that somebody would try: a common word, a row of keys, a repetition, or a name"
            " of this place. Take four or five words that have nothing to do with each other."
        )
    return None


def _refused(reason: str) -> Refused:
    return Refused(reason, field="password")


def _score(password: str, context: Iterable[str]) -> int:
    words = {_PROGRAM}
    for name in context:
        parts = [part for part in re.split(r"[\W_]+", name) if part]
        words |= {name, *parts, "".join(parts)}
    score = _judged(password, words)
    # A name stays a name with points between.
    joined = re.sub(r"[ ._,+-]", "", password)
    return score if len(joined) < _LONG_ENOUGH else min(score, _judged(joined, words))


def _judged(password: str, words: set[str]) -> int:
    # Its word lists take a while to load, and most runs of the program need none of them.
    from zxcvbn import zxcvbn

    # Also the end: a long row of one letter before some good words is none the worse for it.
    pieces = {password[:_JUDGED], password[-_JUDGED:]}
    return max(int(zxcvbn(piece, user_inputs=sorted(words))["score"]) for piece in pieces)
