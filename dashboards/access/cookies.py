"""The cookie that says which session a browser has. Pure: header texts."""

from collections.abc import Mapping

SECURE_NAME = "__Host-clutchwarden"
"""By its first letters a browser takes it over https alone, for this host alone (RFC 6265bis section 4.1.3)."""
PLAIN_NAME = "clutchwarden-session"
"""Over plain http, as on the machine itself: Safari keeps no Secure cookie there."""


def token_of(cookies: Mapping[str, str], *, https: bool) -> str:
    """Give the token of the session; empty where there is none."""
    return cookies.get(SECURE_NAME if https else PLAIN_NAME, "")


def keep(token: str, seconds: int, *, https: bool) -> str:
    """Write the Set-Cookie header that makes a browser keep a token for so many seconds."""
    age = max(0, seconds)
    if https:
        return f"{SECURE_NAME}={token}; Max-Age={age}; Path=/; Secure; HttpOnly; SameSite=Lax"
    return f"{PLAIN_NAME}={token}; Max-Age={age}; Path=/; HttpOnly; SameSite=Strict"


def forget(*, https: bool) -> str:
    """Write the Set-Cookie header that makes a browser forget it."""
    return keep("", 0, https=https)
