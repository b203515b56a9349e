"""Names that these pages answer to. A foreign name that somebody lets lead here gets nothing. Pure."""

import ipaddress
from dataclasses import dataclass
from urllib.parse import urlsplit

from config.public_url import LOOPBACK


@dataclass(frozen=True, slots=True)
class KnownHosts:
    """The names, and whether any address in figures will do: that can be no foreign name."""

    names: frozenset[str]
    any_address: bool = False

    @classmethod
    def of(cls, host: str, public_url: str | None) -> "KnownHosts":
        """Give those of pages that listen on `host` and are reached from outside by `public_url`."""
        public = "" if public_url is None else host_of(urlsplit(public_url).netloc)
        names = {*LOOPBACK, host.lower(), public} - {""}
        return cls(frozenset(names), any_address=host not in LOOPBACK)

    def know(self, host_header: str) -> bool:
        """True where a request for this host, with or without a port, is for us."""
        host = host_of(host_header)
        return host in self.names or (self.any_address and _is_address(host))


def host_of(host_header: str) -> str:
    """Give the name or address in a Host header, without port and brackets; empty where there is none."""
    try:
        return (urlsplit(f"//{host_header}").hostname or "").removesuffix(".")
    except ValueError:
        return ""


def is_loopback_host(host_header: str) -> bool:
    """True where the host is this machine by a loopback name."""
    return host_of(host_header) in LOOPBACK


def _is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host.partition("%")[0])
    except ValueError:
        return False
    return True
