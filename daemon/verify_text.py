"""What a look at the chain found, in words and for programs. Pure."""

from collections.abc import Iterator, Mapping
from typing import Any

from daemon.chain_rules import day_name, day_of
from daemon.verify_values import Fault, Verified, Wrong

SHOWN = 20
"""Faults that are told one by one; the rest is counted."""
_WHAT = {
    "alarm_event": "alarms as the readings raised them",
    "alarm_record": "alarms as people dealt with them",
    "audit_event": "changes of site, limits, species, accounts",
    "box_finding": "what was found on rounds",
    "calibration": "calibrations",
    "chain_link": "the chain itself",
    "chain_source": "what the chain covers",
    "channel": "which channel has which number",
    "clutch_note": "notes on clutches",
    "egg_event": "what became of eggs",
    "egg_measure": "measures of eggs",
    "hand_over_note": "notes of hand-overs",
    "photo": "photos of rounds",
    "placement": "where clutches lay",
    "register_change": "changes in the register",
    "rota_change": "duties accepted or cancelled",
    "rota_entry": "duties and absences",
    "rota_told": "what people were told of hand-overs",
    "round": "rounds",
    "sample": "readings",
    "sample_day": "daily digests of readings",
    "trial": "test messages",
    "trial_confirmed": "test messages confirmed",
}
_WRONG = {
    Wrong.CHANGED: "row {row} was changed after it was written",
    Wrong.REMOVED: "row {row} was removed, or its key was changed",
    Wrong.ADDED: "row {row} was put in past clutchwarden",
    Wrong.LINK_CHANGED: "link {row} does not follow from the one before: it, or what it says of its row, was changed",
    Wrong.LINKS_MISSING: "links {row} are missing",
    Wrong.READINGS_CHANGED: "at least one of the readings no. {row} was changed after it was stored",
    Wrong.READING_REMOVED: "readings are missing, the first of them no. {row}",
    Wrong.READING_ADDED: "reading no. {row} was put in past clutchwarden",
    Wrong.DIGEST_MISSING: "no digest holds the {row}",
    Wrong.PHOTO_CHANGED: "the file of photo {row} is not the one that was stored",
    Wrong.PHOTO_MISSING: "the file of photo {row} is missing or cannot be read",
    Wrong.UNREADABLE: "the file of the journal is damaged here ({row})",
    Wrong.NOT_IN_CHAIN: "the code of link {row} is not in this journal",
}
_MEANS = (
    "What this means: somebody or something wrote into the file past clutchwarden, or the disk lost data. What is not "
    "named here is as it was written. It does not say who, and not what stood there before."
)
_DO = (
    "What to do: keep a copy of the journal and of its folder as they are. Compare with a backup made before that day "
    "(clutchwarden verify --journal FILE looks at a backup). Check the disk. Do not rely on what is named here."
)
_NO_HEAD = (
    "What a missing code means: the journal was written anew or cut off after the code was taken, it was restored from "
    "an older backup, or it is another journal."
)
_KEEP = "Keep this code outside this machine: only then it shows later that nobody wrote all of the journal anew."


def verified_text(found: Verified) -> str:
    """Tell it to a person."""
    return "\n".join(_broken(found) if found.faults else _whole(found))


def _whole(found: Verified) -> Iterator[str]:
    since = f" since {found.since}" if found.since else ""
    photos = f" and {counted(found.photos, 'photo')}" if found.photos else ""
    yield (
        f"All {counted(found.events, 'event')} and {counted(found.readings, 'reading')} of "
        f"{counted(found.days, 'day')}{photos}{since} are as they were written."
    )
    yield from _waiting(found)
    yield from _newest(found)
    if found.since:
        yield f"What is older than {found.since} was not looked at."
    if found.head_found:
        yield "The code that you gave is in the chain: what was written up to then is as it was."
    elif found.code:
        yield _KEEP


def _broken(found: Verified) -> Iterator[str]:
    first = found.first
    if first is None:
        return
    yield "NOT as it was written." + (f" First broken day: {first.day} (UTC)." if first.day else "")
    faults = sorted(found.faults, key=lambda each: (each.day or "9999", each.table))
    yield from (f"  {fault_text(each)}" for each in faults[:SHOWN])
    left = found.fault_count - min(len(faults), SHOWN)
    if left:
        yield f"  and {left:,} more".replace(",", " ")
    yield from _waiting(found)
    yield from _newest(found)
    wrong = {each.wrong for each in faults}
    if wrong != {Wrong.NOT_IN_CHAIN}:
        yield _MEANS
    if Wrong.NOT_IN_CHAIN in wrong:
        yield _NO_HEAD
    yield _DO


def fault_text(fault: Fault) -> str:
    """Tell one fault in a line, with its day, its table and its row."""
    what = _WHAT.get(fault.table)
    named = f"{fault.table} ({what})" if what else fault.table
    return f"{fault.day or 'day unknown'}, {named}: {_WRONG[fault.wrong].format(row=fault.row)}"


def _waiting(found: Verified) -> Iterator[str]:
    if found.waiting_readings:
        first, last = found.waiting_days
        days = first if first == last else f"{first} to {last}"
        readings = counted(found.waiting_readings, "reading")
        stand = "stands as it was" if found.waiting_readings == 1 else "stand as they were"
        yield (
            f"{days} (UTC): not sealed yet. Nothing shows whether the {readings} of that time {stand} stored: a day is "
            "sealed once it is over, while the service runs."
        )
    if found.waiting_events:
        waiting = counted(found.waiting_events, "event")
        yield f"{waiting} will be sealed with the next writing; what still waits an hour later cannot be sealed."


def _newest(found: Verified) -> Iterator[str]:
    if found.code:
        day = "" if found.newest_ms is None else f", of {day_name(day_of(found.newest_ms))}"
        yield f"Newest link: {found.code}{day}."


def counted(count: int, one: str) -> str:
    """Write a count with its noun: `1 event`, `18 204 events`."""
    return f"{count:,} {one}{'' if count == 1 else 's'}".replace(",", " ")


def verified_dict(found: Verified) -> Mapping[str, Any]:
    """Tell it to a program."""
    first = found.first
    return {
        "as_written": not found.faults,
        "events": found.events,
        "readings": found.readings,
        "days": found.days,
        "photos": found.photos,
        "events_waiting": found.waiting_events,
        "readings_waiting": found.waiting_readings,
        "not_sealed_from": found.waiting_days[0] or None,
        "not_sealed_until": found.waiting_days[1] or None,
        "since": found.since or None,
        "code": found.code or None,
        "newest_at_ms": found.newest_ms,
        "code_found": found.head_found,
        "first_broken_day": first.day or None if first else None,
        "fault_count": found.fault_count,
        "faults": [
            {"day": each.day or None, "table": each.table, "row": each.row, "wrong": each.wrong.value}
            for each in found.faults
        ],
    }
