"""The message by which a keeper sees whether alerts reach a contact. Pure."""

from config.words import Priority
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage


def trial_message(site: str, person: str, message_id: str, asked_by: str) -> OutgoingMessage:
    """Write one; TEST becomes its first word when it is sent. It has no place, and nothing is asked of its reader."""
    return OutgoingMessage(
        message_id=message_id,
        kind=MessageKind.TEST,
        status=MessageStatus.TEST,
        site=site,
        place="",
        priority=Priority.LOW,
        headline=f"this is how an alert of {site} reaches {person}",
        body=f"Nothing is wrong and there is nothing to do. {asked_by} asked for this message, to see whether alerts "
        "arrive here.",
    )
