"""What charts ask for: which channels there are, and what became of them over a period."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from config.model import ROOM
from config.places import Places
from config.site import Site
from config.words import Quantity
from daemon.clutches import register
from daemon.series import MOST_READINGS, RAW, Series, series
from daemon.storage import calibrations, originals
from daemon.storage.journal import Journal
from sensors.calibration import Piece

DAY_MS = 86_400_000
SEASON_MS = 120 * DAY_MS
"""So long is a season taken for where no clutch lies. Project choice."""
_MOST_READINGS_AT_ONCE = 120_000


@dataclass(frozen=True, slots=True)
class ChartChannel:
    """A channel that can be drawn, with where it is. `group` is the incubator's name, or that of the room."""

    channel: str
    probe: str
    name: str
    quantity: Quantity
    place: str
    place_name: str
    group: str


@dataclass(frozen=True, slots=True)
class ChartSite:
    """What a chart has to know of the site. `bridge_ms`: a longer step between good readings is a gap."""

    time_zone: str
    fahrenheit: bool
    bridge_ms: int
    channels: tuple[ChartChannel, ...]


@dataclass(frozen=True, slots=True)
class OriginalReadings:
    """Readings of a channel as they were stored: `rows` of UTC ms, the value as the probe said it, and its quality.

    `corrections` are the pieces that hold from the first of them on, in order of time; of a contact there are none.
    """

    quantity: Quantity
    rows: Sequence[tuple[int, float, int]]
    corrections: Sequence[Piece]


class ChartReader:
    """Reads for charts. Safe to use from any thread; every call reads one moment of the journal."""

    def __init__(self, journal: Journal, site: Site, longest_bridge_s: float, now_ms: Callable[[], int]) -> None:
        self._journal = journal
        self._site = site
        self.now_ms = now_ms
        self.site = ChartSite(
            site.time_zone, site.temperature_unit == "F", int(longest_bridge_s * 1000), chart_channels(site)
        )

    def read(self, channels: Sequence[str], from_ms: int, until_ms: int, buckets: int) -> tuple[Series, ...]:
        """Give these channels of the site over a period, corrected by their calibrations. Raises JournalError."""
        contacts = {each.channel for each in self.site.channels if each.quantity.is_contact}
        most = min(MOST_READINGS, _MOST_READINGS_AT_ONCE // max(1, len(channels)))
        with self._journal.read() as conn:
            corrections = calibrations.load(conn, self._site)
            return tuple(
                series(
                    conn,
                    channel,
                    from_ms,
                    until_ms,
                    buckets,
                    (RAW,) if channel in contacts else corrections.straight(channel, from_ms, until_ms),
                    self.site.bridge_ms,
                    most,
                )
                for channel in channels
            )

    def originals(self, channel: str, from_ms: int, until_ms: int, limit: int) -> OriginalReadings | None:
        """Give the first readings of a channel in a period, in order of time; None for one that never was.

        Also of a channel that the site has no more: what it measured is in the journal. Raises JournalError.
        """
        stated = next((each.quantity for each in self.site.channels if each.channel == channel), None)
        with self._journal.read() as conn:
            number, kept = originals.known(conn).get(channel, (None, None))
            quantity = stated or (None if kept is None else Quantity(kept))
            if quantity is None:
                return None
            rows = [] if number is None else originals.page(conn, number, from_ms, until_ms, limit)
            pieces: Sequence[Piece] = ()
            if stated is not None and not quantity.is_contact:
                pieces = calibrations.load(conn, self._site).straight(channel, from_ms, until_ms)
            return OriginalReadings(quantity, rows, pieces)

    def season_from_ms(self) -> int:
        """Give when the oldest of the clutches that lie now was set up. Raises JournalError."""
        with self._journal.read() as conn:
            lying = register.clutches(conn)
        now_ms = self.now_ms()
        starts = [clutch.placements[0].from_ms for clutch in lying if clutch.placements[0].from_ms < now_ms]
        return min(starts, default=now_ms - SEASON_MS)


def chart_channels(site: Site) -> tuple[ChartChannel, ...]:
    """Give all channels of a site, those of one incubator together, in the order of its places."""
    places = Places(site)
    order = {place: position for position, place in enumerate((*places.all, ROOM))}
    found = [
        ChartChannel(
            f"{probe.id}/{channel.name}",
            probe.id,
            channel.name,
            channel.quantity,
            probe.place,
            _place_name(places, probe.place),
            _group(places, probe.place),
        )
        for probe in site.probes
        for channel in probe.channels
    ]
    return tuple(sorted(found, key=lambda each: order.get(each.place, len(order))))


def groups(channels: Iterable[ChartChannel]) -> dict[str, list[ChartChannel]]:
    """Put the channels of each incubator together."""
    found: dict[str, list[ChartChannel]] = {}
    for each in channels:
        found.setdefault(each.group, []).append(each)
    return found


def _group(places: Places, place: str) -> str:
    return places.incubator_of(place).name if places.exists(place) else places.name(place)


def _place_name(places: Places, place: str) -> str:
    """Name a place where its incubator is named already."""
    if not places.exists(place):
        return places.name(place)
    incubator = places.incubator_of(place)
    return "whole incubator" if place == incubator.id else places.name(place).removeprefix(f"{incubator.name}, ")
