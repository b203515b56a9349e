"""The newest messages of each topic as they came, for a look at what a probe really sends. In memory, and bounded."""

from collections import deque
from collections.abc import Callable
from typing import NamedTuple

KEPT_OF_EACH = 10
MOST_TOPICS = 64
LARGEST_BYTES = 4096


class RawMessage(NamedTuple):
    """A message as it came, up to its first 4096 bytes; `refused` is why it could not be used, else empty."""

    topic: str
    at_ms: int
    payload: bytes
    refused: str = ""


class RecentMessages:
    """Written by the thread that listens, which must not be held up; read by any."""

    def __init__(self) -> None:
        self._of_topic: dict[str, deque[tuple[int, bytes, str]]] = {}

    def heard(self, topic: str, payload: bytes, at_ms: int, refused: str = "") -> None:
        """Keep a message in place of the oldest one of its topic."""
        kept = self._of_topic.get(topic)
        if kept is None:
            kept = self._begun(topic)
        kept.append((at_ms, payload if len(payload) <= LARGEST_BYTES else payload[:LARGEST_BYTES], refused))

    def of(self, is_meant: Callable[[str], bool]) -> tuple[RawMessage, ...]:
        """Give the newest messages on these topics, newest first, at most `KEPT_OF_EACH`."""
        # Copies: the thread that listens goes on meanwhile.
        meant = [(topic, tuple(kept)) for topic, kept in list(self._of_topic.items()) if is_meant(topic)]
        found = [RawMessage(topic, *each) for topic, kept in meant for each in kept]
        return tuple(sorted(found, key=lambda each: each.at_ms, reverse=True)[:KEPT_OF_EACH])

    def _begun(self, topic: str) -> deque[tuple[int, bytes, str]]:
        if len(self._of_topic) >= MOST_TOPICS:
            oldest = min(self._of_topic, key=lambda each: self._of_topic[each][-1][0])
            del self._of_topic[oldest]
        kept: deque[tuple[int, bytes, str]] = deque(maxlen=KEPT_OF_EACH)
        self._of_topic[topic] = kept
        return kept
