"""The messages by which people see whether alerts reach them. Pure. TEST becomes their first word when they are sent.

They have no place, and what they ask of their reader is not at the incubators.
"""

from config.words import Priority
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage


def trial_message(site: str, person: str, message_id: str, asked_by: str, link: str = "") -> OutgoingMessage:
    """Write one that somebody asked for; its reader may say by the `link` that it arrived, and need not."""
    headline = f"this is how an alert of {site} reaches {person}"
    body = (
        f"Nothing is wrong and there is nothing to do. {asked_by} asked for this message, to see whether alerts "
        "arrive here."
    )
    if link:
        body += " Open the link and press the button there, and they see that it arrived."
    return _message(site, message_id, headline, body, link)


def weekly_test(
    site: str, person: str, message_id: str, link: str, command: str, journal_code: str = ""
) -> OutgoingMessage:
    """Write the one of the week. Its reader confirms it: by the `link`, or where there is none by the `command`.

    `journal_code` is that of the newest link of the chain over events: here a copy of it lies outside the journal.
    """
    ask = (
        "Please open the link and press the button there."
        if link
        else f"Please tell whoever runs clutchwarden, who confirms it there with: {command}"
    )
    body = (
        f"Nothing is wrong, and there is nothing to do at the incubators of {site}. {ask}\n"
        f"If nobody confirms it within a day, an alarm says that alerts may not reach {person} here."
    )
    if journal_code:
        body += f"\nCode of the journal: {journal_code}"
    return _message(site, message_id, "weekly test, please confirm that it arrived", body, link)


def _message(site: str, message_id: str, headline: str, body: str, link: str = "") -> OutgoingMessage:
    return OutgoingMessage(
        message_id=message_id,
        kind=MessageKind.TEST,
        status=MessageStatus.TEST,
        site=site,
        place="",
        priority=Priority.LOW,
        headline=headline,
        body=f"{body}\n{link}" if link else body,
        acknowledge_url=link or None,
    )
