"""How generated cases are run here: the same ones each time, however busy the computer is."""

from hypothesis import settings

steady = settings(deadline=None, derandomize=True)
