"""Whether a request that changes something comes from our own page. Pure."""

from collections.abc import Iterable, Mapping
from urllib.parse import urlsplit

from config.public_url import LOOPBACK

_PROXY_HEADERS = ("forwarded", "via", "x-forwarded-for", "x-forwarded-host", "x-real-ip")


def comes_from_elsewhere(headers: Mapping[str, str], ours: Iterable[str]) -> bool:
    """True where the browser says that another site sent this. `ours` are addresses of our own beside the asked host.

    Sec-Fetch-Site (W3C Fetch Metadata) decides where it is sent. A page that sends no referrer sends `Origin: null`
    (Fetch standard, "append a request Origin header"), which says nothing.
    """
    site = headers.get("sec-fetch-site", "")
    if site:
        return site not in ("same-origin", "none")
    origin = headers.get("origin", "null")
    return origin != "null" and _host(origin) not in _our_hosts(headers, ours)


def asks_this_machine(headers: Mapping[str, str]) -> bool:
    """True where the browser asked for this machine by a loopback name, and no proxy says that it stands before us.

    A name of somebody else's that leads here would make a foreign page look like our own.
    """
    host = urlsplit(f"//{headers.get('host', '')}").hostname or ""
    return host in LOOPBACK and not any(name in headers for name in _PROXY_HEADERS)


def _our_hosts(headers: Mapping[str, str], ours: Iterable[str]) -> set[str]:
    return {headers.get("host", "").lower(), *(_host(each) for each in ours)} - {""}


def _host(address: str) -> str:
    try:
        return urlsplit(address).netloc.lower()
    except ValueError:
        return ""
