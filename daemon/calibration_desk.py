"""Calibrations as pages show and enter them: shown first, and stored only as they were shown."""

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

from config.errors import StatedError
from config.places import Places
from config.site import Site
from daemon.calibration_bench import (
    NOT_YET,
    Bench,
    Dates,
    bench_of,
    beside_reference,
    due_ms_of,
    settled_point,
    span_of,
    within_reason,
)
from daemon.calibration_text import reference_text
from daemon.calibration_wishes import (
    USUAL_DUE,
    AllChannels,
    ChannelNow,
    FieldError,
    Offered,
    OneChannel,
    OnePoint,
    Terms,
    Wish,
    Withdraw,
    mark_of,
)
from daemon.local_moments import local_text
from daemon.storage import calibrations as stored
from daemon.storage.journal import Journal
from sensors.calibration import stated_of
from sensors.calibration_line import (
    UNCORRECTED,
    Line,
    Point,
    one_point,
    refuse_reference,
    refuse_value,
    two_point,
    usual,
)
from sensors.calibration_scale import Scale

OFFER_GOOD_FOR_MS = 3_600_000
"""So long what was shown may be stored: later the probe may have been moved. Project choice."""


class CalibrationDesk:
    """Looks and stores for one site. Safe to use from any thread."""

    def __init__(self, journal: Journal, site: Site, now_ms: Callable[[], int]) -> None:
        self._journal = journal
        self._site = site
        self._now_ms = now_ms
        self._fahrenheit = site.temperature_unit == "F"
        places = Places(site)
        self._channels = {
            channel: ChannelNow(channel, places.name(_place(site, channel)), stated)
            for channel, stated in stated_of(site).items()
        }

    def all(self) -> AllChannels:
        """Every channel. Raises JournalError."""
        with self._journal.read() as conn:
            calibrations = stored.load(conn, self._site)
        site = self._site
        return AllChannels(
            self._now_ms(), site.name, site.time_zone, self._fahrenheit, tuple(self._channels.values()), calibrations
        )

    def one(self, channel: str) -> OneChannel | None:
        """One channel; None where the site has none of that name that can be calibrated. Raises JournalError."""
        if channel not in self._channels:
            return None
        at = self._bench(channel, self._now_ms(), None)
        with self._journal.read() as conn:
            history = tuple(stored.history(conn, channel))
        heard = at.listened(channel, at.now_ms)
        return OneChannel(
            at.now_ms,
            self._site.name,
            self._site.time_zone,
            self._fahrenheit,
            self._channels[channel],
            at.calibrations,
            history,
            heard,
            span_of(self._site, channel),
        )

    def offer(self, channel: str, wish: Wish, terms: Terms, who: str) -> Offered:
        """Give what would be stored; nothing is. Raises FieldError, and JournalError."""
        now_ms = self._now_ms()
        at_ms = terms.at_ms if 0 <= now_ms - terms.at_ms <= OFFER_GOOD_FOR_MS else now_ms
        taken_ms = at_ms if terms.taken_ms is None else terms.taken_ms
        _refuse_future("taken", terms.taken_ms, now_ms)
        _refuse_future("since", terms.since_ms, now_ms)
        with _about(""):
            at = self._bench(channel, now_ms, taken_ms)
        line, method = self._line(at, wish, terms)
        since_ms = taken_ms if terms.since_ms is None else terms.since_ms
        if isinstance(wish, Withdraw):
            since_ms = at_ms if terms.since_ms is None else terms.since_ms
        with _about("due"):
            due_ms = due_ms_of(terms.due or USUAL_DUE, taken_ms, at.zone) if line.points else 0
        offer = at.offer(line, method, Dates(since_ms, due_ms), who, terms.note)
        with self._journal.read() as conn:
            on_record = len(stored.history(conn, channel))
        return Offered(offer, mark_of(offer, on_record), on_record)

    def store(self, offered: Offered) -> bool:
        """Store what was offered; False where another one of the channel was stored meanwhile. Raises JournalError."""
        record = offered.offer.record

        def append(conn: sqlite3.Connection) -> bool:
            if len(stored.history(conn, record.channel)) != offered.on_record:
                return False
            stored.append(conn, record)
            return True

        return self._journal.write(append)

    def _bench(self, channel: str, now_ms: int, taken_ms: int | None) -> Bench:
        return bench_of(self._site, self._journal, channel, now_ms, taken_ms, fahrenheit=self._fahrenheit)

    def _line(self, at: Bench, wish: Wish, terms: Terms) -> tuple[Line, str]:
        if isinstance(wish, Withdraw):
            return UNCORRECTED, "withdrawn"
        bounds = usual(at.stated.quantity)
        with _about("repeats"):
            repeats_u = within_reason(terms.repeatability_u, bounds.repeatability_u, at.scale)
        with _about("wanders"):
            wanders = within_reason(terms.drift_per_year, bounds.drift_per_year, at.scale)
        quantity, fahrenheit = at.stated.quantity, at.fahrenheit
        if isinstance(wish, OnePoint):
            _refuse_typed(at, {"reference": wish.reference, "reading": wish.reading}, wish.accuracy)
            said, said_u = _reading(at, wish, repeats_u)
            point = _point(at, wish.reference, said, wish.accuracy, said_u)
            with _about("reference" if wish.reading is None else "reading"):
                line = one_point(quantity, point, at.stated.accuracy, repeats_u, wanders, fahrenheit=fahrenheit)
            return line, "one-point"
        typed: dict[str, float | None] = {
            "low_reference": wish.low_reference,
            "low_reading": wish.low_reading,
            "high_reference": wish.high_reference,
            "high_reading": wish.high_reading,
        }
        _refuse_typed(at, typed, wish.accuracy)
        low, high = (
            _point(at, true, _uncorrected(at, said, wish.shown), wish.accuracy, repeats_u)
            for true, said in ((wish.low_reference, wish.low_reading), (wish.high_reference, wish.high_reading))
        )
        with _about("high_reading"):
            line = two_point(quantity, low, high, repeats_u, wanders, one_reference=True, fahrenheit=fahrenheit)
        return line, "two-point"


def _reading(at: Bench, wish: OnePoint, repeats_u: float) -> tuple[float, float]:
    """What the probe said and its standard uncertainty: as typed, else the mean of its readings that have settled."""
    if wish.reading is not None:
        return _uncorrected(at, wish.reading, wish.shown), repeats_u
    with _about("reading"):
        mean, scatter = settled_point(at.listened(at.channel, at.taken_ms), at.scale)
    return mean, max(repeats_u, scatter)


def _uncorrected(at: Bench, reading: float, shown: bool | None) -> float:
    record = at.corrected_since
    if record is not None and shown is None:
        since = local_text(record.valid_from_ms, at.zone)
        reason = f"since {since} {at.channel} is corrected, so pages show another figure than the probe"
        raise FieldError("shown", StatedError(reason, "Say which of the two was typed."))
    return at.uncorrected(reading, bool(shown))


def _point(at: Bench, true: float, said: float, accuracy: float, said_u: float) -> Point:
    # What is kept is in the canonical unit, whatever people read.
    return beside_reference(true, said, accuracy, said_u, reference_text(accuracy, Scale(at.stated.quantity)))


def _refuse_typed(at: Bench, typed: Mapping[str, float | None], accuracy: float) -> None:
    """Refuse each number that cannot be, beside its own field."""
    for field, value in typed.items():
        with _about(field):
            if value is not None:
                refuse_value(at.scale, "reference" if field.endswith("reference") else "reading", value)
    with _about("accuracy"):
        refuse_reference(at.scale, accuracy)


def _refuse_future(field: str, moment_ms: int | None, now_ms: int) -> None:
    if moment_ms is not None and moment_ms > now_ms:
        raise FieldError(field, StatedError("this is in the future", NOT_YET))


def _place(site: Site, channel: str) -> str:
    return next(probe.place for probe in site.probes if probe.id == channel.partition("/")[0])


@contextmanager
def _about(field: str) -> Iterator[None]:
    """Say which field a refusal is about."""
    try:
        yield
    except FieldError:
        raise
    except StatedError as error:
        raise FieldError(field, error) from error
