"""The page that the link of a test message leads to, as texts. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.trial_desk import TrialSeen
from dashboards import figures


@dataclass(frozen=True, slots=True)
class ArrivedView:
    """The whole page. `action` is where the press goes, empty where there is nothing to press."""

    heading: str
    lines: tuple[str, ...]
    action: str
    clock: str
    zone: str


def arrived_view(seen: TrialSeen, action: str) -> ArrivedView:
    """What is asked, or what became of it."""
    zone = ZoneInfo(seen.time_zone)
    sent = figures.moment_text(figures.local(seen.sent_ms, zone))
    if seen.confirmed_ms is None:
        heading = f"Did the test arrive, {seen.contact}?"
        lines = (f"It was sent {sent}.", "Nothing is wrong. Press, and it is known that alerts reach you this way.")
    else:
        heading = f"Noted, {seen.contact}: it arrived"
        when = "" if seen.now else f" {figures.age(seen.now_ms, seen.confirmed_ms)}"
        lines = (f"The test of {sent} was confirmed{when or ' just now'}.", "There is nothing more to do.")
    return ArrivedView(
        heading=heading,
        lines=lines,
        action=action if seen.confirmed_ms is None else "",
        clock=figures.moment_text(figures.local(seen.now_ms, zone)),
        zone=seen.time_zone,
    )
