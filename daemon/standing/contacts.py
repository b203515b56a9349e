"""Mains and doors as their contacts say it. Pure. Times are UTC ms.

A contact in the room speaks for the mains of all incubators, one in an incubator for that one. Where no eggs lie
nothing is lost without heat or with an open door, so nobody is called. What an old reading said may have changed, with
one exception: the word that the mains is gone counts until the delay of the alarm can have passed, because a device
without a battery may have had time for that one word only.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from config.words import AlarmKind, Quantity, contact_text
from daemon.standing.found import Found

ALARM_OF = {Quantity.MAINS: (AlarmKind.MAINS_LOST, 0.0), Quantity.DOOR: (AlarmKind.DOOR_OPEN, 1.0)}
"""The alarm of each contact, and the state in which it holds."""
WHOLE_SITE = "mains"
"""The subject of the alarm about the mains of all incubators."""


@dataclass(frozen=True, slots=True)
class Contact:
    """One contact above eggs. `incubator` is empty for the room, that is for the whole site.

    `state` is None where nothing fresh is known; `since_ms` is when it began to say so, as far as that is known.
    """

    channel: str
    quantity: Quantity
    incubator: str
    state: float | None
    since_ms: int | None = None


def contact_alarms(contacts: Iterable[Contact]) -> Iterator[Found]:
    """Give what holds, and of what nothing can be said; subject and place are the incubator, or the whole site."""
    for contact in contacts:
        kind, wrong = ALARM_OF[contact.quantity]
        subject = contact.incubator or WHOLE_SITE
        if contact.state is None:
            yield Found(kind, subject, f"the contact {contact.channel} is silent", contact.incubator, known=False)
        elif contact.state == wrong:
            reason = f"the contact {contact.channel} says {contact_text(contact.quantity, wrong)}"
            yield Found(kind, subject, reason, contact.incubator, since_ms=contact.since_ms)


def speaks_for_ms(quantity: Quantity, window_ms: int, on_delay_ms: int, state: float) -> int:
    """Give how long a reading of a contact says how things are now: `window_ms`, how long it may be silent, or more."""
    lost = quantity is Quantity.MAINS and state == ALARM_OF[quantity][1]
    return window_ms + on_delay_ms if lost else window_ms


def run_since_ms(readings: Sequence[tuple[int, float]], state: float, window_ms: int) -> int | None:
    """Give since when a contact has said the same without a break: the first (time, value) of the newest run.

    `readings` are in order of time. A silence of more than the window breaks it: nobody knows what was in between.
    None where the newest reading says something else.
    """
    since_ms: int | None = None
    for at_ms, value in reversed(readings):
        if value != state or (since_ms is not None and since_ms - at_ms > window_ms):
            break
        since_ms = at_ms
    return since_ms
