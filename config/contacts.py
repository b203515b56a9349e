"""Rules for the addresses of people. Addresses carry tokens: nothing of them is ever repeated in a mistake."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlsplit

from config.errors import ConfigError, Mistake
from config.model import Contact, Site
from config.secret_file import found

_FILE = "site.toml"


def contact_mistakes(site: Site, folder: Path) -> Iterator[Mistake]:
    """Check every contact, and the file that holds its address; `folder` is the site folder."""
    for person in site.people:
        for number, contact in enumerate(person.contacts, start=1):
            place = f"person.{person.id}.contact#{number}"
            key = f"{place}.{'url' if contact.url else 'url_file'}"
            try:
                address = contact.reveal(folder)
            except ConfigError as error:
                yield from (replace(one, file=_FILE, key=key) for one in found(error))
            else:
                yield from _address(key, contact, address)
            try:
                contact.reveal_signing_keys(folder)
            except ConfigError as error:
                yield from (replace(one, key=f"{place}.{one.key.rpartition('.')[2]}") for one in found(error))


def address_fault(kind: str, address: str) -> tuple[str, str] | None:
    """Say why an address cannot be one of its kind, and what to do; None where it can be. Nothing of it is repeated."""
    if kind == "webhook" and not _is_web_address(address):
        hint = "Copy the whole address, beginning with https:// and without spaces or line breaks."
        return "a webhook needs a web address, http:// or https://, with a host", hint
    if kind == "apprise" and not all(address.partition("://")):
        hint = "Copy the whole address of the push service, of the form service://..., without spaces or line breaks."
        return "the address of a push service or of mail names its service before ://", hint
    return None


def _address(key: str, contact: Contact, address: str) -> Iterator[Mistake]:
    fault = address_fault(contact.kind, address)
    if fault is not None:
        yield Mistake(_FILE, key, *fault)


def _is_web_address(address: str) -> bool:
    try:
        parts = urlsplit(address)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and bool(parts.hostname) and not any(map(str.isspace, address))
