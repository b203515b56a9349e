"""From a batch of messages to the journal: every message ends in exactly one counted outcome."""

import logging
import sqlite3
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future

from daemon.arrival import Arrival
from daemon.boards import Boards
from daemon.clock_trust import ClockTrust
from daemon.held_messages import Held, HeldMessages, NoRoom
from daemon.recent_messages import RecentMessages
from daemon.storage import held, messages, samples, status
from daemon.storage.journal import Journal
from daemon.storage.messages import KeptMessage
from sensors.decoder import Decoder
from sensors.reading import Accepted, BoardSaid, Decoded, Outcome, Reading, Rejection, StatusChange

log = logging.getLogger("clutchwarden.ingest")

MOST_SAID = 200
"""Different refusals in the log of one run; a flood of invented topics must not become a flood of lines."""


class Ingest:
    """Decodes on arrival, commits in batches, then lets the evaluation know."""

    def __init__(
        self,
        decoder: Decoder,
        journal: Journal,
        committed: Callable[[], None],
        recent: RecentMessages | None = None,
        trust: ClockTrust | None = None,
        boards: Boards | None = None,
    ) -> None:
        self._boards = Boards() if boards is None else boards
        self._decoder = decoder
        self._journal = journal
        self._committed = committed
        self.recent = RecentMessages() if recent is None else recent
        self._said: set[tuple[str, Outcome]] = set()
        self._no_room = NoRoom()
        self._held = None if trust is None else HeldMessages(journal, decoder, trust)
        self._ids: Mapping[str, int] = journal.write(lambda conn: samples.channel_ids(conn, decoder.channels.values()))

    def decode(self, topic: str, payload: bytes, retained: bool, received_at_ms: int) -> Decoded:
        """Understand one message; never raises."""
        decoded = self._dated(topic, payload, retained, received_at_ms)
        if isinstance(decoded, Held):
            return decoded
        if isinstance(decoded, Rejection):
            self._say_once(topic, decoded)
            if decoded.outcome is not Outcome.UNKNOWN_PROBE:
                # The journal keeps those; a flood of invented topics must not drive out what probes send.
                self.recent.heard(topic, payload, received_at_ms, decoded.reason)
        else:
            self.recent.heard(topic, payload, received_at_ms)
            if isinstance(decoded, BoardSaid):
                self._boards.heard(decoded)
        return decoded

    def _dated(self, topic: str, payload: bytes, retained: bool, received_at_ms: int) -> Decoded:
        """Decode; what cannot be dated yet is held. What was held comes before anything that arrives later."""
        if self._held is None:
            return self._decoder.decode(topic, payload, retained, received_at_ms)
        waits = self._held.held()
        if waits is None:
            self._held.place(self._store_held)
            return self._decoder.decode(topic, payload, retained, received_at_ms)
        decoded = self._decoder.decode(topic, payload, retained, received_at_ms, arrival_known=False)
        return waits if isinstance(decoded, Rejection) and decoded.outcome is Outcome.UNTIMED else decoded

    def _store_held(self, arrivals: Sequence[Arrival], first_id: int, last_id: int) -> None:
        def work(conn: sqlite3.Connection) -> None:
            store_batch(conn, self._ids, arrivals)
            held.let_go(conn, first_id, last_id)

        self._journal.write(work)
        self._committed()

    def _say_once(self, topic: str, rejection: Rejection) -> None:
        """Log the first message of each topic that is refused for one cause; all of them are kept and counted."""
        cause = (topic, rejection.outcome)
        if cause in self._said or len(self._said) >= MOST_SAID:
            return
        self._said.add(cause)
        log.warning("A message on %r cannot be used: %s. Others like it are counted.", topic[:100], rejection.reason)

    def commit(self, arrivals: Sequence[Arrival]) -> "Future[None]":
        """Have a batch stored in one transaction; the future has a JournalError where nothing of it is."""
        future = self._journal.submit(lambda conn: self._no_room.refused(store_batch(conn, self._ids, arrivals)))
        future.add_done_callback(lambda _: self._committed())
        return future


def store_batch(conn: sqlite3.Connection, ids: Mapping[str, int], arrivals: Sequence[Arrival]) -> int:
    """Write the readings, statuses, outcomes and rejected messages of a batch inside the caller's transaction.

    Gives how many messages there was no room to hold.
    """
    accepted: list[tuple[Arrival, tuple[Reading, ...]]] = []
    outcomes: Counter[Outcome] = Counter()
    kept: list[KeptMessage] = []
    waiting = [(arrival, arrival.decoded) for arrival in arrivals if isinstance(arrival.decoded, Held)]
    no_room = len(held.hold(conn, [decoded.message(arrival) for arrival, decoded in waiting])) if waiting else 0
    kept += [_keep(*each) for each in waiting[len(waiting) - no_room :]]
    for arrival in arrivals:
        decoded = arrival.decoded
        if isinstance(decoded, Held):
            continue
        if isinstance(decoded, Accepted):
            accepted.append((arrival, decoded.readings))
        elif isinstance(decoded, StatusChange):
            status.set_probe_status(conn, decoded.probe, decoded.online, decoded.received_at_ms)
            outcomes[Outcome.STATUS] += 1
        elif isinstance(decoded, BoardSaid):
            status.note_losses(conn, decoded.probe, decoded.state.lost, decoded.received_at_ms)
            outcomes[Outcome.STATUS] += 1
        else:
            kept.append(_keep(arrival, decoded))
    outcomes.update(_store_readings(conn, ids, accepted, kept))
    outcomes.update(message.outcome for message in kept)
    messages.record(conn, outcomes, kept)
    return no_room


def _store_readings(
    conn: sqlite3.Connection,
    ids: Mapping[str, int],
    accepted: Sequence[tuple[Arrival, tuple[Reading, ...]]],
    kept: list[KeptMessage],
) -> Counter[Outcome]:
    readings = [reading for _, of_message in accepted for reading in of_message]
    if not readings:
        return Counter()
    conn.execute("SAVEPOINT batch")
    if samples.append(conn, ids, readings).new == len(readings):
        conn.execute("RELEASE batch")
        return Counter({Outcome.STORED: len(accepted)})
    # Something in the batch was here before. Only then each message is asked for its own outcome.
    conn.execute("ROLLBACK TO batch")
    conn.execute("RELEASE batch")
    outcomes: Counter[Outcome] = Counter()
    for arrival, of_message in accepted:
        appended = samples.append(conn, ids, of_message)
        if appended.conflicts:
            # What is new in such a message is stored all the same; the message is kept because of the rest.
            kept.append(_keep(arrival, _conflict(appended.conflicts[0])))
        elif appended.new:
            outcomes[Outcome.STORED] += 1
        else:
            outcomes[Outcome.DUPLICATE] += 1
    return outcomes


def _conflict(reading: Reading) -> Rejection:
    return Rejection(
        Outcome.CONFLICT,
        f"{reading.channel} already has another value for this time than {reading.value:g}; the first one stays. "
        "Two devices may share one probe name, or the probe's clock was set back.",
    )


def _keep(arrival: Arrival, rejection: Rejection) -> KeptMessage:
    return KeptMessage(
        arrival.topic, arrival.payload, arrival.retained, arrival.received_at_ms, rejection.outcome, rejection.reason
    )
