"""The probes of the site as the journal and the broker know them, and what else is heard."""

import sqlite3
from collections.abc import Callable, Iterable, Sequence

from config.model import ROOM
from config.places import Places
from config.site import Probe, Site
from daemon.alarms.silence import window_ms
from daemon.boards import Boards
from daemon.listen_around import ListenAround
from daemon.probe_values import (
    PREFIX,
    ChannelSeen,
    Listening,
    ProbeLook,
    ProbeSeen,
    ProbesSeen,
    UnknownTopic,
)
from daemon.recent_messages import RawMessage, RecentMessages
from daemon.site_desk import SiteDesk
from daemon.storage import messages, probe_counts, samples, status
from daemon.storage.journal import Journal
from daemon.storage.messages import KeptMessage, UnusedTopic
from daemon.storage.samples import StoredReading
from daemon.take_up import named_values, own_probe
from sensors.reading import Outcome
from sensors.topics import topic_matches

DAY_MS = 24 * 3_600_000
WEEK_MS = 7 * DAY_MS
MOST_UNKNOWN = 50
TIMES_OF_ONE = 20
_UNUSED = frozenset({Outcome.UNKNOWN_PROBE})


class ProbeReader:
    """Reads for the pages of probes. Raises JournalError. `trouble`: why a change was not taken up, if so."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        now_ms: Callable[[], int],
        recent: RecentMessages,
        around: ListenAround,
        desk: SiteDesk,
        trouble: Callable[[], str] = str,
        boards: Boards | None = None,
    ) -> None:
        self._boards = Boards() if boards is None else boards
        self.desk = desk
        self.around = around
        self._journal = journal
        self._site = site
        self._places = Places(site)
        self._now_ms = now_ms
        self._recent = recent
        self._trouble = trouble

    def look(self) -> ProbesSeen:
        """All probes of the site, and every topic that is heard and belongs to none of them."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            newest, said = samples.newest(conn), status.probe_statuses(conn)
            seen = tuple(self._seen(conn, probe, newest, said.get(probe.id), now_ms) for probe in self._site.probes)
            unused = messages.unused_topics(conn, _UNUSED, MOST_UNKNOWN)
        listening, heard = self.around.look()
        return self._all(
            now_ms, seen, self._unknown(now_ms - WEEK_MS, [_of_journal(each) for each in unused], heard), listening
        )

    def one(self, probe_id: str) -> ProbeLook | None:
        """One probe with its newest messages; None where the site has none of this id."""
        probe = next((each for each in self._site.probes if each.id == probe_id), None)
        if probe is None:
            return None
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            newest, said = samples.newest(conn), status.probe_statuses(conn)
            seen = self._seen(conn, probe, newest, said.get(probe.id), now_ms, with_flags=True)
        raw = self._recent.of(lambda topic: any(topic_matches(each, topic) for each in seen.topics))
        sent = () if probe.sources else named_values((each.payload for each in raw), now_ms)
        declared = {channel.name for channel in probe.channels}
        undeclared = tuple(each.name for each in sent if each.name not in declared)
        return ProbeLook(self._all(now_ms, (seen,), (), Listening()), seen, raw, undeclared)

    def unknown(self, topic: str) -> UnknownTopic | None:
        """What came on a topic that no probe has, or on the one of a probe that sends more names; None for nothing."""
        with self._journal.read() as conn:
            kept = messages.kept_of(conn, topic, TIMES_OF_ONE)
        _, heard = self.around.look()
        found = [each for each in heard if each.topic == topic]
        raw = [
            *(RawMessage(topic, each.received_at_ms, each.payload, _reason(each)) for each in kept),
            *self._recent.of(lambda one: one == topic),
            *(RawMessage(topic, each.last_ms, payload) for each in found for payload in each.payloads),
        ]
        if not raw:
            return None
        raw.sort(key=lambda each: each.at_ms, reverse=True)
        times = sorted({*(each.at_ms for each in raw), *(at_ms for each in found for at_ms in each.times_ms)})
        payloads = tuple(each.payload for each in raw)
        return UnknownTopic(topic, own_probe(topic), len(times), times[0], times[-1], raw[0], tuple(times), payloads)

    def probe_ids(self) -> tuple[str, ...]:
        """The ids that the site has."""
        return tuple(probe.id for probe in self._site.probes)

    def probe(self, probe_id: str) -> Probe | None:
        """One probe as it is stated."""
        return next((each for each in self._site.probes if each.id == probe_id), None)

    def _all(
        self, now_ms: int, seen: tuple[ProbeSeen, ...], unknown: tuple[UnknownTopic, ...], listening: Listening
    ) -> ProbesSeen:
        site, places = self._site, [*self._places.all, *([ROOM] if self._places.all else [])]
        return ProbesSeen(
            site_name=site.name,
            time_zone=site.time_zone,
            fahrenheit=site.temperature_unit == "F",
            now_ms=now_ms,
            places=tuple((place, self._places.name(place)) for place in places),
            probes=seen,
            unknown=unknown,
            listening=listening,
            refusal=self.desk.refusal,
            mark=self.desk.mark(),
            trouble=self._trouble(),
        )

    def _seen(
        self,
        conn: sqlite3.Connection,
        probe: Probe,
        newest: dict[str, StoredReading],
        said: tuple[bool, int] | None,
        now_ms: int,
        *,
        with_flags: bool = False,
    ) -> ProbeSeen:
        channels = []
        for channel in probe.channels:
            key = f"{probe.id}/{channel.name}"
            reading = newest.get(key)
            good, suspect = probe_counts.good_and_suspect(conn, key, now_ms - DAY_MS)
            channels.append(
                ChannelSeen(
                    name=channel.name,
                    quantity=channel.quantity,
                    newest_ms=None if reading is None else reading.measured_at_ms,
                    value=None if reading is None else reading.value,
                    is_suspect=reading is not None and reading.quality != 0,
                    good=good,
                    suspect=suspect,
                    qualities=probe_counts.by_quality(conn, key, now_ms - DAY_MS) if with_flags else {},
                )
            )
        heard = [row.received_at_ms for each in probe.channels if (row := newest.get(f"{probe.id}/{each.name}"))]
        heard_ms = max(heard, default=None)
        topics = topics_of(probe)
        return ProbeSeen(
            probe=probe,
            place_name=self._places.name(probe.place),
            channels=tuple(channels),
            heard_ms=heard_ms,
            is_silent=heard_ms is None or now_ms - heard_ms > window_ms(probe.interval_s),
            online=None if said is None else said[0],
            online_ms=None if said is None else said[1],
            refused=self._refused(topics),
            topics=topics,
            board=self._boards.of(probe.id),
        )

    def _refused(self, topics: Sequence[str]) -> tuple[int, str] | None:
        """The newest message of a probe, where that could not be used."""
        raw = self._recent.of(lambda topic: any(topic_matches(each, topic) for each in topics))
        return (raw[0].at_ms, raw[0].refused) if raw and raw[0].refused else None

    def _unknown(self, since_ms: int, *of: Iterable[UnknownTopic]) -> tuple[UnknownTopic, ...]:
        """Of several lists those that belong to no probe and were heard of late; a topic in both is told of once."""
        found: dict[str, UnknownTopic] = {}
        for each in (one for several in of for one in several):
            if each.last_ms >= since_ms and not self._is_known(each.topic) and not _is_status(each):
                known = found.get(each.topic)
                found[each.topic] = each if known is None or each.last_ms > known.last_ms else known
        return tuple(sorted(found.values(), key=lambda each: each.last_ms, reverse=True))

    def _is_known(self, topic: str) -> bool:
        probes = self._site.probes
        return own_probe(topic) in self.probe_ids() or any(
            topic_matches(each, topic) for probe in probes for each in topics_of(probe)
        )


def _is_status(unknown: UnknownTopic) -> bool:
    """That a device is online is no measurement to take up; what it measures comes on its other topic."""
    return unknown.probe is not None and not unknown.topic.endswith("/measure")


def topics_of(probe: Probe) -> tuple[str, ...]:
    """The topics that a probe speaks on, or topic filters."""
    if probe.sources:
        return tuple(dict.fromkeys(source.topic for source in probe.sources))
    return (f"{PREFIX}/{probe.id}/measure", f"{PREFIX}/{probe.id}/status")


def _reason(kept: KeptMessage) -> str:
    """Why it was refused; that nobody has taken it up is what the page is there for."""
    return "" if kept.outcome in _UNUSED else kept.reason


def _of_journal(unused: UnusedTopic) -> UnknownTopic:
    kept: KeptMessage = unused.newest
    raw = RawMessage(unused.topic, kept.received_at_ms, kept.payload)
    return UnknownTopic(unused.topic, own_probe(unused.topic), unused.times, unused.first_ms, kept.received_at_ms, raw)
