"""Where a mirror is. Pure."""

import hashlib
from typing import NamedTuple
from urllib.parse import urlsplit

from config.mirror import MirrorSettings


class Target(NamedTuple):
    """Where a mirror is. `key` stands for it in the journal: another address or bucket begins anew."""

    url: str
    org: str
    bucket: str
    key: str

    @property
    def address(self) -> str:
        """Where it is, for people."""
        parts = urlsplit(self.url)
        return f"{parts.hostname}{f':{parts.port}' if parts.port else ''}, bucket {self.bucket}"


def target_of(settings: MirrorSettings) -> Target:
    """Give the target of settings that have one. Raises ValueError where they have none."""
    if settings.url is None:
        raise ValueError("no mirror is stated")
    url = settings.url.rstrip("/")
    key = hashlib.sha256(f"{url}\n{settings.org}\n{settings.bucket}".encode()).hexdigest()[:12]
    return Target(url, settings.org, settings.bucket, key)
