"""From a message to readings: identify, decode, convert, check the times, judge.

Two kinds of topics are understood:

- our own, `<prefix>/<probe>/measure` with a SenML pack, the retained `<prefix>/<probe>/status` with the plain text
  `online` or `offline`, and the retained `<prefix>/<probe>/agent` with what a board says of itself;
- those of the foreign sources of the site file.

In a pack, a record belongs to a channel when its name is the channel's name, or when the part after the last `:` or `/`
is. Records of other names are ignored as long as one declared channel is present.
"""

import math
from collections.abc import Iterable, Mapping, Sequence

from config.site import Site
from sensors import contacts
from sensors.arrival import Measured, in_order, time_fault
from sensors.board import board_state
from sensors.foreign import Extraction, decode_foreign, extraction
from sensors.plausibility import Memory, judge
from sensors.reading import Accepted, BoardSaid, ChannelKey, Decoded, Outcome, Reading, Rejection, StatusChange
from sensors.senml import Record, resolve_pack
from sensors.strict_json import RefusedError, load, quoted
from sensors.topics import MEASURE, STATUS, own_filters, parse_own_topic, topic_matches
from sensors.units import UnitError, senml_to_canonical
from sensors.usual import usual_pack

_STATUS = {b"online": True, b"offline": False}
_LONGEST_LIST = 5


class Decoder:
    """Decodes every message of a site and judges its readings; keeps the judge's memory of each channel.

    For a site that was checked, and for one thread at a time. No message makes it raise.
    """

    def __init__(
        self,
        site: Site,
        prefix: str = "clutchwarden",
        future_tolerance_s: float = 120,
        largest_payload_bytes: int = 65536,
    ) -> None:
        self._prefix = prefix
        self._future_tolerance_ms = round(future_tolerance_s * 1000)
        self._largest_payload_bytes = largest_payload_bytes
        self._probes: dict[str, dict[str, ChannelKey]] = {}
        self._sources: dict[str, list[Extraction]] = {}
        self._memories: dict[str, Memory] = {}
        for probe in site.probes:
            names = {
                one.name: ChannelKey(f"{probe.id}/{one.name}", probe.id, one.name, one.quantity)
                for one in probe.channels
            }
            self._probes[probe.id] = names
            for source in probe.sources:
                self._sources.setdefault(source.topic, []).append(extraction(source, names[source.channel]))
        self.channels: Mapping[str, ChannelKey] = {
            key.channel: key for names in self._probes.values() for key in names.values()
        }
        self.subscriptions: tuple[str, ...] = (*own_filters(prefix), *self._sources)

    def recall(self, readings: Iterable[tuple[str, int, float]]) -> None:
        """Judge again what was stored, oldest first, as (channel, measured_at_ms, value); only memory comes of it.

        Without it a restart would believe a probe that was known to be broken a moment before.
        """
        for channel, measured_at_ms, value in readings:
            key = self.channels.get(channel)
            if key is not None:
                _, self._memories[channel], _ = judge(self._memories.get(channel), key.quantity, value, measured_at_ms)

    def decode(
        self, topic: str, payload: bytes, retained: bool, received_at_ms: int, *, arrival_known: bool = True
    ) -> Decoded:
        """Tell what a message means. `received_at_ms` is the arrival, UTC milliseconds since the epoch. Never raises.

        Without `arrival_known` that is no more than a guess: what has no time of its own, or one ahead of it, is
        refused as UNTIMED, and may be decoded again once the arrival is known.

        No reading of a rejected message reaches the judge, so a rejected message leaves no trace in later judgements.
        """
        if len(payload) > self._largest_payload_bytes:
            reason = f"{len(payload)} bytes, more than the {self._largest_payload_bytes} that are allowed"
            return Rejection(Outcome.OVERSIZED, reason)
        own = parse_own_topic(self._prefix, topic)
        if own is None:
            found = self._foreign(topic, payload, received_at_ms)
        else:
            probe, leaf = own
            if probe not in self._probes:
                reason = f"no probe {quoted(probe)} in the site file; add it there, or correct the topic the probe uses"
                return Rejection(Outcome.UNKNOWN_PROBE, reason)
            if leaf != MEASURE:
                return _of_itself(leaf, probe, payload, received_at_ms)
            found = self._pack(self._probes[probe], payload, received_at_ms)
        if isinstance(found, Rejection):
            return found
        if not arrival_known and not retained and self._is_untimed(found, received_at_ms):
            return Rejection(Outcome.UNTIMED, "when it was sent cannot be said as long as the clock is not right")
        return self._accept(found, retained, received_at_ms)

    def _is_untimed(self, found: Sequence[Measured], received_at_ms: int) -> bool:
        return any(not one.timed or one.measured_at_ms > received_at_ms + self._future_tolerance_ms for one in found)

    def _foreign(self, topic: str, payload: bytes, received_at_ms: int) -> Sequence[Measured] | Rejection:
        extractions = [
            one for topic_filter, fed in self._sources.items() if topic_matches(topic_filter, topic) for one in fed
        ]
        if extractions:
            return decode_foreign(extractions, payload, received_at_ms)
        return Rejection(Outcome.UNKNOWN_PROBE, f"no source of the site file has the topic {quoted(topic)}")

    def _pack(
        self, names: Mapping[str, ChannelKey], payload: bytes, received_at_ms: int
    ) -> Sequence[Measured] | Rejection:
        try:
            document = load(payload)
        except RefusedError as refused:
            return Rejection(refused.outcome, refused.reason)
        usual = usual_pack(document, names)
        if usual is not None:
            return usual
        records = resolve_pack(document, received_at_ms)
        if isinstance(records, Rejection):
            return records
        found = []
        for record in records:
            key = names.get(_last_part(record.name))
            if key is None:
                continue
            measured = _convert(key, record)
            if isinstance(measured, Rejection):
                return measured
            found.append(measured)
        return found or _undeclared(records, names)

    def _accept(self, found: Sequence[Measured], retained: bool, received_at_ms: int) -> Accepted | Rejection:
        ordered = in_order(found)
        if isinstance(ordered, Rejection):
            return ordered
        fault = time_fault(
            ordered, retained=retained, received_at_ms=received_at_ms, future_tolerance_ms=self._future_tolerance_ms
        )
        if fault is not None:
            return fault
        readings = []
        suspicions = []
        for key, value, measured_at_ms, _ in ordered:
            channel = key.channel
            quality, self._memories[channel], reason = judge(
                self._memories.get(channel), key.quantity, value, measured_at_ms
            )
            readings.append(Reading(channel, measured_at_ms, received_at_ms, value, int(quality)))
            if reason:
                suspicions.append(f"{channel}: {reason}")
        return Accepted(ordered[0].key.probe, tuple(readings), tuple(suspicions))


def _of_itself(leaf: str, probe: str, payload: bytes, received_at_ms: int) -> Decoded:
    if leaf == STATUS:
        return _status(probe, payload, received_at_ms)
    state = board_state(payload, received_at_ms)
    return state if isinstance(state, Rejection) else BoardSaid(probe, state, received_at_ms)


def _status(probe: str, payload: bytes, received_at_ms: int) -> StatusChange | Rejection:
    online = _STATUS.get(payload)
    if online is None:
        return Rejection(Outcome.MALFORMED, "a status is the plain text online or offline, nothing else")
    return StatusChange(probe, online, received_at_ms)


def _last_part(name: str) -> str:
    return name.replace("/", ":").rpartition(":")[2]


def _convert(key: ChannelKey, record: Record) -> Measured | Rejection:
    value = record.value
    if key.quantity.is_contact:
        try:
            state = contacts.from_senml(key.quantity, key.name, record)
        except RefusedError as refused:
            return Rejection(refused.outcome, refused.reason)
        return Measured(key, state, record.measured_at_ms, record.timed)
    if type(value) is not float:
        reason = f"channel {key.name}: the record carries no number (v), but text, a truth value, data or only a sum"
        return Rejection(Outcome.NOT_A_NUMBER, reason)
    try:
        canonical = senml_to_canonical(key.quantity, value, record.unit)
    except UnitError as error:
        return Rejection(Outcome.WRONG_UNIT, f"channel {key.name}: {error}")
    if not math.isfinite(canonical):
        return Rejection(Outcome.NOT_A_NUMBER, f"channel {key.name}: the number is larger than a double can hold")
    return Measured(key, canonical, record.measured_at_ms, record.timed)


def _undeclared(records: Sequence[Record], names: Mapping[str, ChannelKey]) -> Rejection:
    if not records:
        return Rejection(Outcome.MALFORMED, "the pack has base fields only and no measurement")
    sent = ", ".join(quoted(name) for name in sorted({record.name for record in records})[:_LONGEST_LIST])
    declared = ", ".join(sorted(names)) or "none"
    return Rejection(
        Outcome.UNKNOWN_CHANNEL, f"none of the names sent ({sent}) is a channel of this probe ({declared})"
    )
