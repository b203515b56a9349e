"""The people of a site as the ladder knows them: who can be reached, by what, and in which order."""

from config.site import Site
from daemon.alarms.people import Contact, Person, Rota
from daemon.contacts import contact_ids


def rota_of(site: Site) -> Rota:
    """Everybody who has a contact, in the order of the site file. Contacts of one kind share a path."""
    people = tuple(
        Person(
            person.id,
            person.name,
            tuple(
                Contact(contact_id, contact.kind)
                for contact_id, contact in zip(contact_ids(person), person.contacts, strict=True)
            ),
        )
        for person in site.people
        if person.contacts
    )
    return Rota(people, tuple(person.id for person in people))
