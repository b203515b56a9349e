"""The ways to people: which contact is reached how, and whether its address can work at all."""

from collections.abc import Iterator
from pathlib import Path

from pydantic import SecretStr

from config.errors import Mistake
from config.secret_file import UnseenError
from config.site import Contact, Person, Site
from daemon.alarms.delivery import Channel


def contact_ids(person: Person) -> list[str]:
    """The ids by which the outbox knows the contacts of a person."""
    return [f"{person.id}/{index}" for index in range(len(person.contacts))]


def names_by_contact(site: Site) -> dict[str, str]:
    """Who is behind each contact id, and which of the person's contacts it is where there are several."""
    return {
        contact: person.name + (f" (contact {number})" if len(person.contacts) > 1 else "")
        for person in site.people
        for number, contact in enumerate(contact_ids(person), start=1)
    }


def channels(site: Site, folder: Path, timeout_s: float) -> dict[str, Channel]:
    """The way to every contact of a site, by contact id."""
    return {
        contact_id: channel_for(contact, folder, timeout_s)
        for person in site.people
        for contact_id, contact in zip(contact_ids(person), person.contacts, strict=True)
    }


def channel_for(contact: Contact, folder: Path, timeout_s: float) -> Channel:
    """The way to one contact. The library behind push services is loaded only where one is used."""
    address = SecretStr(contact.reveal(folder))
    if contact.kind == "webhook":
        from daemon.alarms.webhook import WebhookChannel

        return WebhookChannel(address, timeout_s, keys=contact.reveal_signing_keys(folder))
    from daemon.alarms.push import PushChannel

    return PushChannel(address, timeout_s)


def address_mistakes(site: Site, folder: Path) -> Iterator[Mistake]:
    """Addresses that no push service understands: an alert to them would reach nobody. Nothing is sent."""
    from daemon.alarms.push import PushChannel

    for person in site.people:
        for number, contact in enumerate(person.contacts, start=1):
            if contact.kind != "apprise":
                continue
            try:
                address = SecretStr(contact.reveal(folder))
            except UnseenError:
                # Told where the site is checked; only the service itself can look at it.
                continue
            if not PushChannel(address, 1.0).is_understood():
                yield Mistake(
                    "site.toml",
                    f"person.{person.id}.contact#{number}",
                    "the library for push services does not understand this address, so no alert would arrive",
                    "Copy the address from your push service in the form service://... that apprise documents.",
                )
