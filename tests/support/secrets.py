"""One check for every channel: what is secret in an address stays out of every text."""

from collections.abc import Iterable
from urllib.parse import parse_qsl, unquote, urlsplit

_SHORTEST = 5


def secrets_of(url: str) -> tuple[str, ...]:
    """List what nobody may read of an address: the whole, user, password, path and its parts, query and its values.

    Fails for an address whose secrets are so short that they could stand in a text by chance.
    """
    parts = urlsplit(url)
    found = [parts.username, parts.password, parts.path, *parts.path.split("/"), parts.query]
    found += [value for _, value in parse_qsl(parts.query)]
    kept = {text for part in found if part for text in (part, unquote(part)) if len(text) > 1}
    assert kept, "this address holds no secret, so nothing would be checked"
    assert min(map(len, kept)) >= _SHORTEST, "choose longer secrets, so that none is found by chance"
    return (url, *sorted(kept))


def assert_no_secret(texts: Iterable[str], secrets: Iterable[str]) -> None:
    """Fail where one of the texts holds one of the secrets, or where there is no text or no secret to look at."""
    looked_at, hidden = tuple(texts), tuple(secrets)
    assert looked_at, "no text to look at"
    assert hidden, "no secret to look for"
    leaks = [(text, secret) for text in looked_at for secret in hidden if secret in text]
    assert not leaks, f"{len(leaks)} leaks, the first: {leaks[0]}"
