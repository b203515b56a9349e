"""How long to wait before something is tried once more. Pure; seconds."""

FIRST_S = 0.2
LONGEST_S = 300.0
"""From tenths of a second for a packet that was lost to five minutes for a machine that is off. Project choice."""
LONGEST_ASKED_S = 900.0
"""What a target asks for is kept up to here: one that says a day would leave the keeper without a mirror unseen."""
_DOUBLINGS = 20


def wait_s(failures: int, asked_s: float | None = None) -> float:
    """Give the pause after so many failures in a row, twice as long each time; at least what the target asked for."""
    if failures < 1:
        return 0.0
    own_s = min(FIRST_S * 2.0 ** min(failures - 1, _DOUBLINGS), LONGEST_S)
    return own_s if asked_s is None else max(own_s, min(asked_s, LONGEST_ASKED_S))
