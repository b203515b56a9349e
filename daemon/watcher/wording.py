"""The watcher's messages: headline complete alone, then since when, why, one action, time left. Pure."""

from datetime import tzinfo

from config.words import Priority
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage, rfc3339
from daemon.alarms.figures import clock_text, duration_text
from daemon.watcher.rules import Policy, Tell, Told

LONGEST_HEADLINE = 60
LONGEST_TEXT = 300
"""headline, line break and body, without the link"""
_KINDS = {
    Told.SILENT: MessageKind.ALARM,
    Told.STILL: MessageKind.REMINDER,
    Told.TAKEN: MessageKind.REMINDER,
    Told.BACK: MessageKind.CLEARED,
}
_HEADS = {
    Told.SILENT: ("CRITICAL ", ": nobody watches the eggs"),
    Told.STILL: ("UPDATE CRITICAL ", ": still nobody watches"),
    Told.TAKEN: ("UPDATE ", ": somebody looks after it"),
    Told.BACK: ("CLEARED ", ": the watch is back"),
}


def message(tell: Tell, site: str, zone: tzinfo, policy: Policy, now_ms: int, link: str) -> OutgoingMessage:
    """Write what is sent. `link` is where a person answers, or empty; the identity of each copy is given later."""
    before, after = _HEADS[tell.what]
    headline = before + short(site, LONGEST_HEADLINE - len(before) - len(after)) + after
    lines = _lines(tell, zone, policy, now_ms, LONGEST_TEXT - len(headline) - 1)
    if link and tell.what in (Told.SILENT, Told.STILL):
        lines.append(f"Answer: {link}")
    return OutgoingMessage(
        message_id=f"{tell.incident.ident}-{tell.what}-{tell.incident.told}",
        kind=_KINDS[tell.what],
        status=MessageStatus.ACTUAL,
        site=site,
        place=site,
        priority=Priority.CRITICAL,
        headline=headline,
        body="\n".join(lines),
        occurrence=tell.incident.ident,
        started_at=rfc3339(tell.incident.began_ms),
    )


def trial(site: str, ident: str) -> OutgoingMessage:
    """Write the message by which a keeper tries whether the watcher can reach everybody."""
    tail = ": nothing is wrong"
    return OutgoingMessage(
        message_id=ident,
        kind=MessageKind.TEST,
        status=MessageStatus.TEST,
        site=site,
        place=site,
        priority=Priority.LOW,
        headline=short(site, LONGEST_HEADLINE - len("TEST: ") - len(tail)) + tail,
        body="This came from the watcher of clutchwarden, on its own way. You need not do anything.",
    )


def short(text: str, longest: int) -> str:
    """Give a text in one line and at most so long, with ... where something is left out, between words if it can be."""
    plain = " ".join(text.split()).rstrip(".!")
    if len(plain) <= longest:
        return plain
    cut = plain[: longest - 2].rpartition(" ")[0] or plain[: longest - 3]
    return cut.rstrip(" ,;:.") + "..."


def _lines(tell: Tell, zone: tzinfo, policy: Policy, now_ms: int, room: int) -> list[str]:
    began_ms = tell.incident.began_ms
    since = f"{clock_text(began_ms, now_ms, zone)}, for {duration_text(now_ms - began_ms)}"
    if tell.what is Told.BACK:
        return [
            f"Not watched from {since}.",
            "Look at its page, or at the thermometers: nothing was told in that time.",
        ]
    if tell.what is Told.TAKEN:
        again = clock_text(now_ms + round(policy.answer_holds_s * 1000), now_ms, zone)
        return [
            f"{short(tell.incident.who, 60)} has answered, {clock_text(now_ms, now_ms, zone)}.",
            f"You need not go unless asked. If nobody watches then, it begins again at {again}.",
        ]
    lines = [
        f"No well answer from clutchwarden since {since}.",
        "Look at the thermometers in the incubators, then at mains, router and machine.",
        "Time left: unknown, look within the hour.",
    ]
    why = short(tell.trouble, room - sum(len(line) + 1 for line in lines) - len("Why: .") - 1)
    if tell.trouble:
        lines.insert(1, f"Why: {why}" if why.endswith("...") else f"Why: {why}.")
    return lines
