"""Pure: a box holds one clutch at a time. A shelf or a whole incubator may hold several."""

from collections.abc import Iterable

from daemon.clutches.errors import At, RegisterError
from daemon.clutches.placements import FOR_EVER_MS, Placement, next_start_ms
from daemon.clutches.values import Clutch

_PARTS_OF_A_BOX = 3


def is_box(place: str) -> bool:
    """True for `incubator/zone/box`."""
    return place.count("/") + 1 == _PARTS_OF_A_BOX


def spans(placements: Iterable[Placement], end_ms: int) -> Iterable[tuple[Placement, int]]:
    """Give each stay with its end: the next move, or `end_ms`."""
    placements = tuple(placements)
    for stay in placements:
        yield stay, min(next_start_ms(placements, stay.from_ms), end_ms)


def refuse_occupied(place: str, from_ms: int, until_ms: int, others: Iterable[Clutch]) -> None:
    """Raise RegisterError where one of these clutches lay in this box at any time of the span (UTC ms)."""
    if not is_box(place):
        return
    for other in others:
        for stay, left_ms in spans(other.placements, other.end_ms):
            if stay.place == place and stay.from_ms < min(left_ms, until_ms) and from_ms < left_ms:
                since = (" since ", At(stay.from_ms)) if left_ms == FOR_EVER_MS else (" until ", At(left_ms))
                raise RegisterError(
                    (f"the box {place} holds {other.label}", *since),
                    f"A box holds one clutch. Move or close {other.label} first, choose another box, or let the two "
                    f"swap places. If {other.label} was entered by mistake, withdraw it.",
                    "place",
                )
