"""Where the pages are reached from outside: the start of every link in a message."""

from urllib.parse import urlsplit

from config.errors import StatedError
from config.web_address import is_web_address

_EXAMPLE = 'Write it like "https://eggs.example.org": the start of the address and nothing behind it.'
LOOPBACK = ("127.0.0.1", "::1", "localhost")


def public_start(address: str, *, plain_http_accepted: bool = False) -> str:
    """Give the start of every link, without a slash at its end.

    Raises StatedError where it is no such start, and, unless that is accepted, where a link would go over the net for
    everybody to read: whoever reads one can acknowledge with it.
    """
    address = address.strip()
    if not is_web_address(address):
        raise StatedError("this is not a web address", _EXAMPLE)
    parts = urlsplit(address)
    if parts.username is not None or parts.password is not None:
        raise StatedError("a user or password stands in the address, and would go out with every message", _EXAMPLE)
    if parts.path not in ("", "/") or parts.query or parts.fragment:
        raise StatedError("more than the start of the address is given", _EXAMPLE)
    if parts.scheme != "https" and parts.hostname not in LOOPBACK and not plain_http_accepted:
        hint = (
            "Use https://, with certificate_file and key_file or a reverse proxy before the pages. Only in a network"
            " where nobody reads along: plain_http_accepted = true."
        )
        raise StatedError("links over http:// can be read and used by everybody on the way", hint)
    return f"{parts.scheme}://{parts.netloc}"


def is_loopback(address: str) -> bool:
    """True where the address is reached from this machine alone."""
    return urlsplit(address).hostname in LOOPBACK
