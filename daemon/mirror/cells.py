"""Which stretches of ten minutes have to be worked out for the mirror, given what readings came. Pure."""

from collections.abc import Iterable, Iterator, Mapping

CELL_MS = 10 * 60_000
"""One dew point in so long is enough: air and lids follow the room over hours. Project choice."""
_APART = 6
"""Cells further apart than this are read one by one, and not everything between them."""
_KEPT = 100_000


class Cells:
    """Remembers which cells of a place were worked out, and by the reading of which moment."""

    def __init__(self) -> None:
        self._done: dict[tuple[str, int], int] = {}

    def due(self, touched: Mapping[str, Mapping[int, int]]) -> Iterator[tuple[str, int, int]]:
        """Give (place, start, end) of what has to be worked out, UTC ms.

        `touched`: for each place the earliest moment of what came, by the number of the cell. A cell that is known
        stays as it is, unless a reading came that was measured before those that it is known by.
        """
        for place, cells in touched.items():
            fresh = sorted(cell for cell, at_ms in cells.items() if at_ms <= self._done.get((place, cell), at_ms))
            for first, last in _runs(fresh):
                yield place, first * CELL_MS, (last + 1) * CELL_MS

    def known(self, place: str, start_ms: int, newest_used_ms: int) -> None:
        """The cell that begins at `start_ms` was worked out by readings up to a moment."""
        if len(self._done) >= _KEPT:
            self._done.clear()
        self._done[place, start_ms // CELL_MS] = newest_used_ms


def touched_by(
    rows: Iterable[tuple[int, int, int, int, float, int]], places: Mapping[int, str]
) -> dict[str, dict[int, int]]:
    """Give for each place the earliest moment of its readings by cell; `places` by number of the channel."""
    found: dict[str, dict[int, int]] = {place: {} for place in places.values()}
    for _, channel_id, measured_ms, _, _, _ in rows:
        place = places.get(channel_id)
        if place is not None:
            cells, cell = found[place], measured_ms // CELL_MS
            if measured_ms < cells.get(cell, measured_ms + 1):
                cells[cell] = measured_ms
    return found


def _runs(cells: list[int]) -> Iterator[tuple[int, int]]:
    first = last = None
    for cell in cells:
        if first is None or last is None or cell - last > _APART:
            if first is not None and last is not None:
                yield first, last
            first = cell
        last = cell
    if first is not None and last is not None:
        yield first, last
