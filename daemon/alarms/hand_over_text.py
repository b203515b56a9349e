"""What people read about a hand-over of the duty, by message. Pure."""

from datetime import tzinfo

from config.unprintable import on_one_line
from daemon.alarms.hand_over import Planned, Step
from daemon.alarms.rota import moment_text
from daemon.alarms.shortened import shortened
from daemon.alarms.wording import LONGEST_HEADLINE, AlertText

_LONGEST_NAME = 20
_LONGEST_ID = 20


def asked_text(planned: Planned, step: Step, successor: str, before: str, zone: tzinfo, link: str = "") -> AlertText:
    """Ask the successor. `before` is who is called meanwhile, empty where that is nobody else."""
    begins = moment_text(planned.duty.start_ms, zone)
    late = step is Step.LATE
    headline = f"DUTY not accepted, it began {begins}" if late else f"DUTY from {begins}: do you take over?"
    name, other = _name(successor), _name(before)
    lines = [
        f"{name}, you are to be called first for alarms, {span_text(planned, zone)}.",
        f"Until you accept, {other} is called first." if other else "You have not accepted yet.",
        'Open the link and press "I take over".' if link else f"On the machine: {_command(planned)}",
        "If you cannot, say so to the others now.",
    ]
    return _text(headline, lines, link)


def not_accepted_text(planned: Planned, successor: str, zone: tzinfo) -> AlertText:
    """Tell whoever is on duty that it has not ended."""
    name = _name(successor)
    lines = [
        f"{name} was to take over {moment_text(planned.duty.start_ms, zone)} and has not accepted.",
        f"You are called first until that happens. Call {name}, or plan somebody else: clutchwarden duty plan.",
    ]
    return _text("DUTY not taken over: you are still called first", lines)


def taken_text(planned: Planned, successor: str, zone: tzinfo, now_ms: int) -> AlertText:
    """Tell whoever was on duty that somebody else is, or will be."""
    name, begun = _name(successor), planned.duty.start_ms <= now_ms
    first = f"{name} is called first now" if begun else f"{name} is called first from then on"
    until_ms = planned.duty.end_ms
    until = "" if until_ms is None else f", planned to {moment_text(until_ms, zone)}"
    headline = f"DUTY taken over by {name}"
    lines = [f"{name} has accepted the duty from {moment_text(planned.duty.start_ms, zone)}.", f"{first}{until}."]
    if not begun:
        lines.append("Until then you are.")
    return _text(headline, lines)


def cancelled_text(planned: Planned, successor: str, zone: tzinfo) -> AlertText:
    """Tell whoever was asked to take over that it has become void."""
    line = f"{_name(successor)}, the duty {span_text(planned, zone)} was cancelled."
    return _text("DUTY cancelled: you need not take over", [line, "You are not called first by it. Nothing to do."])


def span_text(planned: Planned, zone: tzinfo) -> str:
    """Write the time of a duty: `from 3 Aug 2026 09:00 to 14 Aug 2026 09:00`, or `from ... on`."""
    begins = moment_text(planned.duty.start_ms, zone)
    if planned.duty.end_ms is None:
        return f"from {begins} on"
    return f"from {begins} to {moment_text(planned.duty.end_ms, zone)}"


def _command(planned: Planned) -> str:
    """What to type; a long id is left out, for the command says itself what is missing."""
    person = planned.duty.person
    return f"clutchwarden duty accept {person}" if len(person) <= _LONGEST_ID else "clutchwarden duty accept"


def _text(headline: str, lines: list[str], link: str = "") -> AlertText:
    return AlertText(shortened(headline, LONGEST_HEADLINE), "\n".join([*lines, link] if link else lines))


def _name(name: str) -> str:
    """Put a keeper's own text on one line."""
    return shortened(on_one_line(name), _LONGEST_NAME)
