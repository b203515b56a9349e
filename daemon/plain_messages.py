"""A message without anything that has to be worked out, for an alarm whose own text could not be written. Pure."""

from daemon.alarm_desk_values import Entry
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage
from daemon.alarms.wrong import WRONG
from daemon.storage.outbox import OutboxMessage


def plain_message(
    entry: Entry,
    site: str,
    status: MessageStatus,
    message_id: str,
    contact: str,
    kind: MessageKind,
    incident: str,
    now_ms: int,
    page: str = "",
    *,
    is_taken: bool = False,
) -> OutboxMessage:
    """Name the alarm as the site file names what it is about, and send people to the page or the command.

    `page` is the address of the pages, where there is one. `kind` is one of those about an alarm.
    """
    raised, priority = entry.raised, entry.alarm.priority
    start = {
        MessageKind.ALARM: priority.word,
        MessageKind.REMINDER: f"UPDATE {priority.word}",
        MessageKind.CLEARED: "CLEARED",
    }[kind]
    if is_taken:
        start = "ACKNOWLEDGED"
    about = f"{raised.about} " if raised.about else ""
    what = f"{raised.place or site}: {about}{WRONG[raised.kind]}"
    is_over = "This alarm is over. " if kind is MessageKind.CLEARED else ""
    where = f"the page ({page})" if page else "the page"
    body = (
        f"{is_over}The full text of this alarm ({raised.kind}: {raised.subject}) could not be written, by a fault in "
        f"the program or in the site file. Look at the eggs there, and see {where} or clutchwarden alarms list."
    )
    message = OutgoingMessage(
        message_id=message_id,
        kind=kind,
        status=status,
        site=site,
        place=raised.place or site,
        priority=priority,
        headline=f"{start} {what}",
        body=body,
        alarm=raised.kind,
        occurrence=raised.occurrence,
    )
    return OutboxMessage(message_id, contact, int(priority), now_ms, message.to_json(), incident)
