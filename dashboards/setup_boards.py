"""What the board of a probe says of itself, as lines for its page. Pure; texts of the board are texts, cut."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import tzinfo

from daemon.alarms.rota import moment_text
from daemon.board_words import known_fault
from daemon.boards import BoardHeard
from dashboards import figures
from dashboards.raw_text import harmless
from sensors.board_state import BoardState

_LOST = (
    ("given_up", "given up, since there was no more room"),
    ("damaged", "damaged on its disk"),
    ("undated", "measured with a clock that was never set"),
)


@dataclass(frozen=True, slots=True)
class BoardLine:
    """A name and what is said under it; `wrong` where somebody has to do something."""

    name: str
    said: str
    wrong: bool = False


def board_lines(heard: BoardHeard | None, now_ms: int, zone: tzinfo) -> tuple[BoardLine, ...]:
    """Turn what a board said last into lines; none where it never spoke."""
    return () if heard is None else tuple(_lines(heard, now_ms, zone))


def _lines(heard: BoardHeard, now_ms: int, zone: tzinfo) -> Iterator[BoardLine]:
    state = heard.state
    at_ms = heard.received_ms if state.said_ms is None else min(state.said_ms, now_ms)
    version = f", version {harmless(state.version)}" if state.version else ""
    yield BoardLine("Agent", f"told this {figures.age(now_ms, at_ms)}{version}")
    if state.clock:
        wrong = state.clock_is_right is False
        kept = "; all readings wait on the board until a time service has set it" if wrong else ""
        yield BoardLine("Clock", f"{harmless(state.clock)}{kept}", wrong)
    if state.waiting is not None:
        yield BoardLine("Not sent yet", _waiting(state))
    # No caution: these counts never go back, and what is lost anew is told when it happens.
    yield BoardLine("Lost", f"since its spool was begun: {', '.join(_losses(state)) or 'nothing'}")
    if state.certificate_ends_s is not None:
        good = moment_text(round(state.certificate_ends_s * 1000), zone)
        yield BoardLine("Broker", f"its certificate, as it was at the last connection, is good until {good}")
    if state.missed:
        yield BoardLine("Not measured", f"{figures.number(state.missed, 0)} times there was no time for it", wrong=True)
    if state.disk:
        yield BoardLine("Disk", f"takes nothing ({harmless(state.disk)}); readings are kept in memory", wrong=True)
    for channel, said in state.faults.items():
        yield BoardLine(f"Channel {harmless(channel)}", _fault(said), wrong=True)


def _waiting(state: BoardState) -> str:
    if not state.waiting:
        return "nothing"
    oldest = "" if state.oldest_s is None else f", the oldest for {figures.duration(round(state.oldest_s))}"
    full = "" if state.full is None else f"; {figures.number(100 * state.full, 0)} % of its room is taken"
    return f"{figures.number(state.waiting, 0)} reading{'' if state.waiting == 1 else 's'}{oldest}{full}"


def _losses(state: BoardState) -> Iterator[str]:
    for name, why in _LOST:
        count = getattr(state, name)
        if count:
            yield f"{figures.number(count, 0)} {why}"


def _fault(said: str) -> str:
    ours, sentence = known_fault(said), said.partition(":")[2].strip()
    if ours is None:
        return harmless(said)
    return f"{ours} (it says: {harmless(sentence)})" if sentence else ours
