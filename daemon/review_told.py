"""What was told to whom in a period, and what became of it: from the outbox and the journal of alarms."""

import json
import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any

from config.site import Site
from daemon.answer_values import person_name
from daemon.contacts import names_by_contact
from daemon.review.account import Fate, ToldLine
from daemon.review.telling import Telling
from daemon.storage import alarm_records, call_fates
from daemon.storage.alarm_records import AlarmRecord
from daemon.storage.call_fates import MessageFate

SEEN_WITHIN_MS = 7 * 86_400_000
"""An acknowledgement counts for a message so long: a link is good for as long. As `alarm_links` has it."""
_FATES = {"delivered": Fate.ACCEPTED, "abandoned": Fate.GIVEN_UP, "superseded": Fate.POINTLESS}
_CALLS = frozenset({"alarm", "reminder"})
_ABOUT_EGGS = frozenset({"alarm", "reminder", "cleared"})


def told(
    conn: sqlite3.Connection, site: Site, from_ms: int, to_ms: int, now_ms: int, telling: Telling
) -> tuple[ToldLine, ...]:
    """Give every message of a period that was about an alarm, oldest first. Digests and tests are none."""
    written = [(each, _body(each.body)) for each in call_fates.messages(conn, from_ms, to_ms)]
    sent = [(each, body) for each, body in written if body.get("kind") in _ABOUT_EGGS]
    if not sent:
        return ()
    until_ms = min(to_ms + SEEN_WITHIN_MS, now_ms) + 1
    names = {person.id: person.name for person in site.people}
    acknowledged = alarm_records.acknowledgements(conn, from_ms, until_ms)
    contacts = names_by_contact(site)
    return tuple(_line(each, body, acknowledged, contacts, names, telling) for each, body in sent)


def _body(text: str) -> Mapping[str, Any]:
    try:
        found = json.loads(text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _line(
    sent: MessageFate,
    body: Mapping[str, Any],
    acknowledged: Sequence[AlarmRecord],
    contacts: Mapping[str, str],
    names: Mapping[str, str],
    telling: Telling,
) -> ToldLine:
    who = contacts.get(sent.contact, sent.contact)
    about = str(body.get("headline") or body.get("alarm") or "an alarm")
    fate = _FATES.get(sent.state, Fate.WAITING)
    accepted_ms = sent.last_attempt_ms if fate is Fate.ACCEPTED else None
    occurrence = body.get("occurrence") or ""
    seen = next((one for one in acknowledged if one.occurrence == occurrence and one.at_ms >= sent.created_ms), None)
    seen_by = "" if seen is None else person_name(names, seen.who)
    called = body.get("kind") in _CALLS and bool(sent.incident)
    words = " ".join(
        [
            f"To {who}: {about.rstrip('. ')}.",
            _fate_words(sent, fate, telling),
            *(() if not called else (_seen_words(seen, seen_by, sent.created_ms, telling),)),
        ]
    )
    return ToldLine(
        made_ms=sent.created_ms,
        contact=sent.contact,
        who=who,
        about=about,
        fate=fate,
        attempts=sent.attempts,
        accepted_ms=accepted_ms,
        seen_ms=None if seen is None else seen.at_ms,
        seen_by=seen_by,
        called=called,
        words=words,
    )


def _fate_words(sent: MessageFate, fate: Fate, telling: Telling) -> str:
    made = telling.moment(sent.created_ms)
    tries = f" at attempt {sent.attempts}" if sent.attempts > 1 else ""
    error = f": {sent.error.rstrip('. ')}" if sent.error else ""
    if fate is Fate.ACCEPTED and sent.last_attempt_ms is not None:
        return f"Written {made}, taken by its receiver {telling.until(sent.last_attempt_ms, sent.created_ms)}{tries}."
    if fate is Fate.POINTLESS:
        return f"Written {made}, not sent: it was over, or taken by somebody, before it could be."
    if fate is Fate.GIVEN_UP:
        return f"Written {made}, given up after {sent.attempts} attempts{error}."
    return f"Written {made}, not taken by its receiver yet, after {sent.attempts} attempts{error}."


def _seen_words(seen: AlarmRecord | None, seen_by: str, made_ms: int, telling: Telling) -> str:
    if seen is None:
        return "Nobody has acknowledged what it tells of."
    return f"First acknowledged by {seen_by} {telling.until(seen.at_ms, made_ms)}."
