"""What people are told of a journal that cannot be written. Pure."""

import hashlib
from zoneinfo import ZoneInfo

from config.site import Site
from config.words import AlarmKind
from daemon.alarms.definitions import tuned
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage, rfc3339
from daemon.alarms.wording import AlertFacts, Stage, alert_text
from daemon.contacts import contact_ids

KEY = f"{AlarmKind.JOURNAL_FAILING}:journal"
_KINDS = {Stage.RAISED: MessageKind.ALARM, Stage.STILL: MessageKind.REMINDER, Stage.CLEARED: MessageKind.CLEARED}


def occurrence(since_ms: int) -> str:
    """The name of one failing of the journal."""
    return f"{KEY}:{since_ms}"


def journal_messages(
    site: Site, status: MessageStatus, stage: Stage, since_ms: int, now_ms: int, why: str
) -> dict[str, OutgoingMessage]:
    """One message for each contact of the site, by contact id. They have no link: nothing could keep the answer."""
    definition = tuned(AlarmKind.JOURNAL_FAILING, site.alarms)
    told = [person for person in site.people if person.contacts]
    messages = {}
    for person in told:
        facts = AlertFacts(
            stage=stage,
            definition=definition,
            place=site.name,
            quantity=None,
            since_ms=since_ms,
            now_ms=max(now_ms, since_ms),
            zone=ZoneInfo(site.time_zone),
            ended_ms=now_ms if stage is Stage.CLEARED else None,
            told=tuple(other.name for other in told if other is not person),
            detail=why if stage is not Stage.CLEARED else "",
        )
        text = alert_text(facts)
        for contact in contact_ids(person):
            parts = f"{occurrence(since_ms)}|{stage}|{now_ms}|{contact}"
            messages[contact] = OutgoingMessage(
                message_id=hashlib.sha256(parts.encode()).hexdigest()[:24],
                kind=_KINDS[stage],
                status=status,
                site=site.name,
                place=site.name,
                priority=definition.priority,
                headline=text.headline,
                body=text.body,
                alarm=AlarmKind.JOURNAL_FAILING,
                occurrence=occurrence(since_ms),
                started_at=rfc3339(since_ms),
            )
    return messages
