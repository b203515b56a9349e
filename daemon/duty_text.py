"""The duty rota in words and for programs. Pure."""

from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

from daemon.alarms.hand_over import Planned, waits
from daemon.alarms.hand_over_text import span_text
from daemon.alarms.people import Rota, duty_in_force, on_duty
from daemon.alarms.rota import moment_text
from daemon.rota import KnownRota
from daemon.storage.duties import Entries, PlannedAbsence


def now_lines(known: KnownRota, names: Mapping[str, str], zone: ZoneInfo, now_ms: int) -> list[str]:
    """Who is called now, in which order and why."""
    rota = known.rota
    duty = on_duty(rota, now_ms)
    order = ", then ".join(person.name for person in duty.order)
    lines = [f"Called now: {order or 'nobody, for no person has a contact'} ({duty.reason})."]
    if rota.emergency:
        emergency = ", ".join(names[name] for name in rota.emergency)
        lines.append(f"Where nobody answers a critical alarm: {emergency}.")
    until_ms = rota.quiet.end_of_quiet_ms(now_ms) if rota.quiet is not None else None
    if until_ms is not None:
        lines.append(f"Quiet hours until {moment_text(until_ms, zone)}: alarms of the lowest priority wait.")
    return lines


def planned_lines(
    entries: Entries, known: KnownRota, names: Mapping[str, str], zone: ZoneInfo, now_ms: int, *, everything: bool
) -> list[str]:
    """One line for each duty and absence, in order of time; without past and cancelled ones unless `everything`."""
    lines: list[tuple[int, str]] = []
    for planned in entries.duties:
        duty, state = planned.duty, duty_state(planned, known, now_ms)
        if everything or state not in ("cancelled", "over"):
            second = f", then {_named(duty.second, names)}" if duty.second else ""
            who = f"{_named(duty.person, names)}{second} on duty {span_text(planned, zone)}"
            lines.append((duty.start_ms, f"no. {planned.number}  {who}: {state}{_why(planned.why)}"))
    for away in entries.absences:
        state = absence_state(away, now_ms)
        if everything or state not in ("cancelled", "over"):
            span = f"from {moment_text(away.absence.start_ms, zone)} to {moment_text(away.absence.end_ms, zone)}"
            line = f"no. {away.number}  {_named(away.absence.person, names)} away {span}: {state}{_why(away.why)}"
            lines.append((away.absence.start_ms, line))
    return [line for _, line in sorted(lines)]


def duty_state(planned: Planned, known: KnownRota, now_ms: int) -> str:
    """How a duty stands: one of a few words, the same for people and programs."""
    duty, rota = planned.duty, known.rota
    if planned.cancelled:
        return "cancelled"
    if is_in_force(planned, known, now_ms):
        return "in force"
    if duty.end_ms is not None and duty.end_ms <= now_ms:
        return "over"
    if all(each.id != duty.person for each in rota.people):
        return "void, nobody of that id can be called"
    if duty.accepted_ms is not None:
        return "accepted" if duty.start_ms > now_ms else "over"
    return "not accepted" if waits(planned, rota, now_ms) else "over"


def is_in_force(planned: Planned, known: KnownRota, now_ms: int) -> bool:
    """Tell whether calls follow this very duty now."""
    force = duty_in_force(known.rota, now_ms)
    return any(each.number == planned.number and each.duty is force for each in known.duties)


def absence_state(away: PlannedAbsence, now_ms: int) -> str:
    """How an absence stands, as a word."""
    if away.cancelled:
        return "cancelled"
    if away.absence.end_ms <= now_ms:
        return "over"
    return "now" if away.absence.start_ms <= now_ms else "ahead"


def as_dict(entries: Entries, known: KnownRota, now_ms: int) -> dict[str, object]:
    """All of it for programs, also what is past. Times are UTC ms."""
    rota: Rota = known.rota
    duty = on_duty(rota, now_ms)
    return {
        "called_now": [person.id for person in duty.order],
        "reason": duty.reason,
        "emergency": list(rota.emergency),
        "quiet_until_ms": None if rota.quiet is None else rota.quiet.end_of_quiet_ms(now_ms),
        "duties": [_duty_dict(each, known, now_ms) for each in entries.duties],
        "absences": [_absence_dict(each, now_ms) for each in entries.absences],
    }


def _duty_dict(planned: Planned, known: KnownRota, now_ms: int) -> dict[str, object]:
    duty = planned.duty
    return {
        "number": planned.number,
        "person": duty.person,
        "second": duty.second or None,
        "start_ms": duty.start_ms,
        "end_ms": duty.end_ms,
        "planned_ms": planned.planned_ms,
        "accepted_ms": duty.accepted_ms,
        "state": duty_state(planned, known, now_ms),
        "why": planned.why,
    }


def _absence_dict(away: PlannedAbsence, now_ms: int) -> dict[str, object]:
    return {
        "number": away.number,
        "person": away.absence.person,
        "start_ms": away.absence.start_ms,
        "end_ms": away.absence.end_ms,
        "state": absence_state(away, now_ms),
        "why": away.why,
    }


def _why(why: str) -> str:
    return f" ({why})" if why else ""


def _named(person: str, names: Mapping[str, str]) -> str:
    return names.get(person, f"{person} (not in site.toml any more)")


def listed(sentences: Sequence[str]) -> list[str]:
    """Warnings as sentences."""
    return [f"Note: {each}." for each in sentences]
