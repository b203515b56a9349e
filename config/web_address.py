"""Whether a text is a web address at all. It may hold a token, so nothing of it is repeated in a mistake."""

from urllib.parse import urlsplit


def is_web_address(address: str) -> bool:
    """True for http:// or https:// with a host, a port that can be one, and no white space."""
    try:
        parts = urlsplit(address)
        _ = parts.port
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and bool(parts.hostname) and not any(map(str.isspace, address))
