"""The readings of a report as CSV: one file for each channel, read page by page, so that memory does not grow.

Each page is read in a moment of its own: readings are never changed, so what is given is whole, and nobody who takes
a long time to fetch it holds the journal back.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from zoneinfo import ZoneInfo

from config.site import Site
from daemon.report_bundle import Piece
from daemon.reports.csv_lines import Lines, head_line
from daemon.reports.names import file_name
from daemon.storage import calibrations, originals
from daemon.storage.journal import Journal
from sensors.calibration import Piece as Correction

PAGE_ROWS = 20_000
FOLDER = "readings"
Spans = Sequence[tuple[int, int]]
Advance = Callable[[int], None]


def nothing(_done: int) -> None:
    """Nobody watches how far it is."""


class Originals:
    """Gives the readings of one site. Safe to use from any thread."""

    def __init__(self, journal: Journal, site: Site) -> None:
        self._journal, self._site, self.zone = journal, site, ZoneInfo(site.time_zone)
        self._measuring = {
            f"{probe.id}/{channel.name}" for probe in site.probes for channel in probe.channels
            if not channel.quantity.is_contact
        }  # fmt: skip

    def pieces(self, wanted: Mapping[str, Spans], advance: Advance = nothing) -> tuple[tuple[Piece, ...], int]:
        """Give a file for each channel with readings in its spans, and how many readings there are in all.

        `advance` is called with how many more lines were written. Raises JournalError.
        """
        found: list[Piece] = []
        total = 0
        with self._journal.read() as conn:
            known, corrections = originals.known(conn), calibrations.load(conn, self._site)
            for channel, spans in wanted.items():
                number, quantity = known.get(channel, (None, ""))
                count = 0 if number is None else originals.count(conn, number, spans)
                if number is None or not count:
                    continue
                total += count
                pieces: Sequence[Correction] = ()
                if channel in self._measuring:
                    pieces = corrections.straight(
                        channel, min(each[0] for each in spans), max(each[1] for each in spans)
                    )
                lines = Lines(channel, quantity, pieces, self.zone)
                name = f"{FOLDER}/{file_name(channel.replace('/', '.'))}.csv"
                if name in (each.name for each in found):
                    name = f"{FOLDER}/{file_name(channel.replace('/', '.'))}-{number}.csv"
                found.append(self._piece(name, number, lines, tuple(spans), advance))
        return tuple(found), total

    def _piece(self, name: str, number: int, lines: Lines, spans: Spans, advance: Advance) -> Piece:
        return Piece(name, lambda: self._chunks(number, lines, spans, advance))

    def _chunks(self, number: int, lines: Lines, spans: Spans, advance: Advance) -> Iterator[bytes]:
        yield head_line().encode()
        for from_ms, until_ms in spans:
            begin_ms: int | None = from_ms
            while begin_ms is not None:
                with self._journal.read() as conn:
                    rows = originals.page(conn, number, begin_ms, until_ms, PAGE_ROWS)
                if rows:
                    yield lines.of(rows).encode()
                    advance(len(rows))
                begin_ms = rows[-1][0] + 1 if len(rows) == PAGE_ROWS else None
