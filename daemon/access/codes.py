"""Codes of invitations: typed once, on a phone. Pure but for the drawing."""

import secrets

FIRST_FOR_MS = 3_600_000
INVITED_FOR_MS = 24 * 3_600_000
"""ASVS 6.4.1: the first secret is short-lived and works once. One hour, one day: project choices."""

GROUPS, IN_GROUP = 6, 4
_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""32 signs of which no two are taken for each other on paper or by ear: I, L, O and U are missing."""
_MEANT = str.maketrans({"I": "1", "L": "1", "O": "0"})


def draw_code() -> str:
    """Draw a code in groups.

    120 bits: fewer than 112 would need a slow hash to be kept safely (ASVS 6.5.2), more would be more to type. Nobody
    guesses one within its day, and the sign-in pages make whoever tries wait.
    """
    signs = [secrets.choice(_ALPHABET) for _ in range(GROUPS * IN_GROUP)]
    return "-".join("".join(signs[start : start + IN_GROUP]) for start in range(0, len(signs), IN_GROUP))


def as_drawn(typed: str) -> str:
    """Give the one form of a code that was typed: in small letters, without hyphens, an O for a 0."""
    return "".join(sign for sign in typed.upper().translate(_MEANT) if sign in _ALPHABET)
