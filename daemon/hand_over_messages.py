"""From what people have to be told of a hand-over to messages in the outbox."""

import hashlib
import sqlite3
from typing import NamedTuple
from zoneinfo import ZoneInfo

from config.site import Site
from config.words import Priority
from daemon.alarms import hand_over
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage
from daemon.alarms.hand_over import Notice, Planned, Step
from daemon.alarms.hand_over_text import asked_text, cancelled_text, not_accepted_text, taken_text
from daemon.alarms.people import Person, Rota
from daemon.alarms.wording import AlertText
from daemon.rota import KnownRota
from daemon.storage import duties, outbox, rota_links
from daemon.storage.outbox import OutboxMessage
from daemon.storage.rota_links import RotaLink

LINK_PATH = "/a/duty"
"""Below the path of the other links, so that whoever lets those in from outside lets these in too."""


class Asked(NamedTuple):
    """Messages, what the links in them are good for, and what has been told by them. `version` is the rota's."""

    messages: list[OutboxMessage]
    links: list[RotaLink]
    told: list[tuple[int, Step]]
    version: tuple[int, int]

    def store(self, conn: sqlite3.Connection, now_ms: int) -> None:
        """Put all of it into the journal; nothing where the rota has changed since, for then it may be wrong."""
        if not self.told or duties.version(conn) != self.version:
            return
        for number, step in self.told:
            duties.tell(conn, number, step, now_ms)
        rota_links.store(conn, self.links)
        outbox.enqueue(conn, self.messages)


class HandOverMessages:
    """Writes the messages of one site. Without a `public_url` they have no links."""

    def __init__(self, site: Site, status: MessageStatus, public_url: str | None = None) -> None:
        self._site = site.name
        self._zone = ZoneInfo(site.time_zone)
        self._status = status
        self._public_url = public_url

    def due(self, conn: sqlite3.Connection, known: KnownRota, now_ms: int) -> Asked:
        """What has to be told now. Costs nothing where no duty waits to be accepted."""
        waiting = [each for each in known.duties if hand_over.waits(each, known.rota, now_ms)]
        if not waiting:
            return Asked([], [], [], (0, 0))
        told = duties.told(conn, [each.number for each in waiting])
        notices = hand_over.due(waiting, told, known.rota, now_ms)
        links: list[RotaLink] = []
        messages = [
            self._message(notice.planned, notice.step, contact, self._text(notice, known.rota, now_ms, links), now_ms)
            for notice in notices
            for contact in notice.contacts
        ]
        steps = dict.fromkeys((notice.planned.number, notice.step) for notice in notices)
        return Asked(messages, links, list(steps), duties.version(conn))

    def taken(self, planned: Planned, successor: Person, before: Person, now_ms: int) -> list[OutboxMessage]:
        """Tell whoever was on duty that somebody has taken over."""
        text = taken_text(planned, successor.name, self._zone, now_ms)
        return [
            self._message(planned, "taken", each.id, (text, None), now_ms, waits_for_answer=False)
            for each in before.usable[:1]
        ]

    def cancelled(self, planned: Planned, successor: Person, now_ms: int) -> list[OutboxMessage]:
        """Tell whoever was asked that nothing is asked of them any more."""
        text = cancelled_text(planned, successor.name, self._zone)
        return [
            self._message(planned, "cancelled", each.id, (text, None), now_ms, waits_for_answer=False)
            for each in successor.usable[:1]
        ]

    def _text(self, notice: Notice, rota: Rota, now_ms: int, links: list[RotaLink]) -> tuple[AlertText, str | None]:
        """The text for one message, and its link."""
        planned = notice.planned
        successor = rota.person(planned.duty.person)
        if not notice.asks:
            return not_accepted_text(planned, successor.name, self._zone), None
        before = hand_over.called_first(planned.duty, rota, now_ms)
        link = self._link(planned, now_ms, links)
        other = "" if before is None else before.name
        text = asked_text(planned, notice.step, successor.name, other, self._zone, link)
        return text, link or None

    def _link(self, planned: Planned, now_ms: int, links: list[RotaLink]) -> str:
        """Make a link of its own for one message; empty where there is no address for one."""
        if self._public_url is None:
            return ""
        token, row = rota_links.new_link(planned.number, planned.duty.person, now_ms)
        links.append(row)
        return f"{self._public_url}{LINK_PATH}/{token}"

    def _message(
        self,
        planned: Planned,
        what: str,
        contact: str,
        text: tuple[AlertText, str | None],
        now_ms: int,
        *,
        waits_for_answer: bool = True,
    ) -> OutboxMessage:
        said, link = text
        message = OutgoingMessage(
            message_id=_id(planned.number, what, contact),
            kind=MessageKind.REMINDER,
            status=self._status,
            site=self._site,
            place="",
            priority=Priority.HIGH,
            headline=said.headline,
            body=said.body,
            acknowledge_url=link,
        )
        about = subject(planned.number) if waits_for_answer else ""
        return OutboxMessage(message.message_id, contact, int(message.priority), now_ms, message.to_json(), about)


def subject(number: int) -> str:
    """What messages that wait for an answer are about, by which the outbox lets them go once there is one."""
    return f"duty {number}"


def _id(number: int, what: str, contact: str) -> str:
    """The same message has the same id, so that a step that is done again sends nothing twice."""
    return hashlib.sha256(f"duty|{number}|{what}|{contact}".encode()).hexdigest()[:24]
