"""The page that asks the successor to take over a duty, as texts. Pure."""

from dataclasses import dataclass
from typing import Protocol
from zoneinfo import ZoneInfo

from daemon.alarms.hand_over_text import span_text
from daemon.alarms.rota import moment_text
from daemon.duty_desk import DutySeen
from dashboards import figures


class TakingOver(Protocol):
    """What the page needs: to look, and to take over."""

    def look(self, token: str) -> DutySeen | None:
        """What a link is about; None where it is good for nothing."""

    def take_over(self, token: str) -> DutySeen | None:
        """Accept the duty of a link."""


@dataclass(frozen=True, slots=True)
class TakeOverView:
    """The whole page. `action` is where the press goes, empty where there is nothing to press."""

    heading: str
    lines: tuple[str, ...]
    action: str
    clock: str
    zone: str


def take_over_view(seen: DutySeen, action: str) -> TakeOverView:
    """What is asked, or what became of it."""
    zone = ZoneInfo(seen.time_zone)
    heading, lines = _asked(seen, zone) if seen.waits else _answered(seen, zone)
    return TakeOverView(
        heading=heading,
        lines=(*((seen.refused,) if seen.refused else ()), *lines),
        action=action if seen.waits else "",
        clock=figures.moment_text(figures.local(seen.now_ms, zone)),
        zone=seen.time_zone,
    )


def _asked(seen: DutySeen, zone: ZoneInfo) -> tuple[str, tuple[str, ...]]:
    lines = [f"You are to be called first for alarms, {span_text(seen.planned, zone)}."]
    if seen.before:
        lines.append(f"{seen.before} is called first until you accept. If you cannot, tell {seen.before} now.")
    return f"Do you take over, {seen.person}?", tuple(lines)


def _answered(seen: DutySeen, zone: ZoneInfo) -> tuple[str, tuple[str, ...]]:
    duty = seen.planned.duty
    span = f"It was planned {span_text(seen.planned, zone)}."
    if seen.planned.cancelled:
        return "This duty was cancelled", (span, "You need not take over.")
    if duty.end_ms is not None and duty.end_ms <= seen.now_ms:
        return "This duty is over", (span,)
    if duty.accepted_ms is None:
        return "You cannot be called", (span, "site.toml has no contact of yours any more. Say so to the others now.")
    if duty.start_ms > seen.now_ms:
        until = moment_text(duty.start_ms, zone)
        later = f"Until then {seen.before or 'somebody else'} is called first."
        return f"Noted, {seen.person}: you take over {until}", (later,)
    if seen.before:
        return f"Noted, {seen.person}", (span, f"{seen.before} has taken over since, or you are entered as away.")
    return f"Noted, {seen.person}: you are on duty", ("You are called first now.",)
