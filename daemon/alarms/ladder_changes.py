"""How a ladder begins otherwise than at its first rung, goes on after a pause, and is joined with others. Pure."""

from collections.abc import Mapping
from dataclasses import replace

from config.words import Priority
from daemon.alarms.classes import MINUTE_MS
from daemon.alarms.ladder import LadderPace, LadderState, started

CALL_AGAIN_MS = 5 * MINUTE_MS
"""What is on again is called at once where the last call is so long ago, else with its next rung: project choice."""


def reminding(priority: Priority, now_ms: int, told: tuple[str, ...] = ()) -> LadderState:
    """Begin with reminders: what was over when it was found is called by no rung. `told` have heard that it is over."""
    return LadderState(priority, now_ms, LadderPace.REMIND, last_told_ms=now_ms, told=told)


def escalated(ladder: LadderState, priority: Priority, now_ms: int) -> LadderState:
    """Begin at the first rung of a more urgent priority. Who was told and who cannot go is still known."""
    return LadderState(priority, now_ms, cannot=ladder.cannot, harm_ms=ladder.harm_ms, told=ladder.told)


def resumed(ladder: LadderState, priority: Priority, now_ms: int, *, news: bool = False) -> LadderState:
    """Call again for an incident; `news` is something in it that nobody has heard of.

    Nobody has acknowledged since the first call, whatever came and went meanwhile: so it goes on and does not begin
    anew, or an alarm that flaps would call the first person for ever. After an acknowledgement it does begin anew.
    """
    if ladder.pace is LadderPace.STOPPED:
        return started(priority, now_ms)
    uncalled = ladder.pace is LadderPace.REMIND and not ladder.rungs
    if uncalled or priority < ladder.priority:
        return escalated(ladder, priority, now_ms)
    long_ago = ladder.called_ms is None or now_ms - ladder.called_ms >= CALL_AGAIN_MS
    return replace(ladder, pace=LadderPace.CALL, called_ms=None if news or long_ago else ladder.called_ms)


def joined(ladders: Mapping[str, LadderState]) -> tuple[str, LadderState]:
    """Of incidents that are one from now on the most advanced ladder, with everybody who was told by any."""
    order = [LadderPace.CALL, LadderPace.REMIND, LadderPace.STOPPED]

    def rank(name: str) -> tuple[int, int, int, int]:
        each = ladders[name]
        return order.index(each.pace), int(each.priority), -each.rungs, each.started_ms

    names = sorted(ladders, key=rank)
    told = tuple(dict.fromkeys(person for name in names for person in ladders[name].told))
    return names[0], replace(ladders[names[0]], told=told)


def heard_only_the_end(ladder: LadderState) -> bool:
    """Tell whether people have heard since the last call that it is over: then another end is no news."""
    if ladder.pace is LadderPace.STOPPED or ladder.called_ms is None or ladder.last_told_ms is None:
        return False
    return ladder.last_told_ms > ladder.called_ms
