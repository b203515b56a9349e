"""What a mirror holds of one journal, read back as the journal would say it."""

from typing import NamedTuple

from daemon.mirror.compare import Reading
from daemon.mirror.errors import MirrorError
from daemon.mirror.former import FormerSeries
from daemon.mirror.points import ALARM_EVENT, READING, EventRow
from daemon.mirror.spans import Span
from daemon.mirror_query import MirrorReader, Series, text

_EVENT = ("number", "time", "recorded_ms", "alarm", "occurrence", "event", "value", "limit_value", "reason")


class MirroredChannel(NamedTuple):
    """A channel as its points name it."""

    channel: str
    probe: str
    quantity: str


class MirrorRead:
    """Asks for the points of one journal, whatever its site was called. Raises MirrorError where it cannot be read."""

    def __init__(self, reader: MirrorReader, journal: str) -> None:
        self._reader = reader
        self._of_journal = f'"journal" = {text(journal)}'

    def spans(self) -> dict[str, Span]:
        """Give the first and last time of measuring of each channel, UTC ms."""
        found: dict[str, Span] = {}
        for which in ("first", "last"):
            query = f'SELECT {which}("value") FROM "{READING}" WHERE {self._of_journal} GROUP BY "channel"'  # noqa: S608
            for series in self._reader.ask(query):
                at_ms, channel = int(series.rows[0][0]), series.tags["channel"]
                before = found.get(channel, (at_ms, at_ms))
                found[channel] = min(before[0], at_ms), max(before[1], at_ms)
        return found

    def channels(self) -> list[MirroredChannel]:
        """Give all channels that have readings."""
        query = (
            f'SELECT last("value") FROM "{READING}" WHERE {self._of_journal} GROUP BY "channel", "probe", "quantity"'  # noqa: S608
        )
        found = {
            MirroredChannel(each.tags["channel"], each.tags["probe"], each.tags["quantity"])
            for each in self._reader.ask(query)
        }
        return sorted(found)

    def former(self) -> dict[str, list[FormerSeries]]:
        """Give every series of readings by its channel, with all of its tags and the time that it spans."""
        found: dict[tuple[tuple[str, str], ...], list[int]] = {}
        for which in ("first", "last"):
            query = f'SELECT {which}("value") FROM "{READING}" WHERE {self._of_journal} GROUP BY *'  # noqa: S608
            for series in self._reader.ask(query):
                found.setdefault(tuple(sorted(series.tags.items())), []).append(int(series.rows[0][0]))
        by_channel: dict[str, list[FormerSeries]] = {}
        for tags, times in found.items():
            series_of_one = FormerSeries({name: said for name, said in tags if said}, min(times), max(times))
            by_channel.setdefault(dict(tags)["channel"], []).append(series_of_one)
        return by_channel

    def readings(self, channel: str, start_ms: int, end_ms: int) -> list[Reading]:
        """Give the readings of a channel from start until before end, in order of time; the same one once.

        Where the probe was moved or the site renamed between two writings of one reading, two series hold it.
        """
        query = (
            f'SELECT "seq", "received_ms", "value", "quality" FROM "{READING}"'  # noqa: S608
            f' WHERE {self._of_journal} AND "channel" = {text(channel)} AND {_between(start_ms, end_ms)} GROUP BY *'
        )
        found = [_reading(each, row) for each in self._reader.ask(query) for row in each.rows]
        return sorted(dict.fromkeys(found), key=lambda row: (row[1], row[0]))

    def event_span(self) -> Span | None:
        """Give the time of the first and the last alarm event, UTC ms; None where there is none."""
        times = [
            int(each.rows[0][0])
            for which in ("first", "last")
            for each in self._reader.ask(
                f'SELECT {which}("number") FROM "{ALARM_EVENT}" WHERE {self._of_journal}'  # noqa: S608
            )
        ]
        return (min(times), max(times)) if times else None

    def events(self, start_ms: int, end_ms: int) -> dict[int, EventRow]:
        """Give the alarm events from start until before end by number."""
        query = f'SELECT * FROM "{ALARM_EVENT}" WHERE {self._of_journal} AND {_between(start_ms, end_ms)}'  # noqa: S608
        found = (_event(each, row) for each in self._reader.ask(query) for row in each.rows)
        return {row[0]: row for row in found}


def _between(start_ms: int, end_ms: int) -> str:
    return f"time >= {start_ms}ms AND time < {end_ms}ms"


def _reading(series: Series, row: list[object]) -> Reading:
    at_ms, seq, received_ms, value, quality = row
    if None in row:
        raise _foreign(series, f"the point of {at_ms}")
    return int(seq), int(at_ms), int(received_ms), float(value), int(quality)  # type: ignore[call-overload, arg-type]


def _event(series: Series, row: list[object]) -> EventRow:
    named = dict(zip(series.columns, row, strict=True))
    whole = [named.get(name) for name in _EVENT]
    if None in (*whole[:6], whole[8]):
        raise _foreign(series, f"the event of {named.get('time')}")
    number, at_ms, recorded_ms = (int(each) for each in whole[:3])  # type: ignore[call-overload]
    return (number, at_ms, recorded_ms, *whole[3:])


def _foreign(series: Series, what: str) -> MirrorError:
    where = ", ".join(series.tags.values()) or "alarm events"
    hint = "Another program may write into the same bucket: give the mirror one of its own."
    return MirrorError("the mirror holds a point that is not whole", where, f"{what} lacks a field", hint)
