"""`[mirror]` of settings.toml: an InfluxDB that gets a copy of readings, derived values and alarm events."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Self
from urllib.parse import urlsplit

from pydantic import Field, SecretStr, model_validator

from config.errors import ConfigError, Mistake, StatedError
from config.model import Table, Text
from config.public_url import is_loopback
from config.secret_file import found, read_secret
from config.web_address import is_web_address

FILES = ("token_file",)
_HINT = 'Write the start of its address, like "http://10.0.0.5:8086"; user, password and token do not belong in it.'


class MirrorSettings(Table):
    """Without a `url` nothing is copied. `bucket`: the database of InfluxDB 1.x; `org` is asked for by 2.x alone."""

    url: Text | None = None
    org: Text = "-"
    bucket: Text = "clutchwarden"
    token: SecretStr | None = None
    token_file: Path | None = None
    batch_size: Annotated[int, Field(ge=1, le=100_000)] = 5000
    timeout_s: Annotated[float, Field(gt=0, le=300, allow_inf_nan=False)] = 20.0

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        if self.token is not None and self.token_file is not None:
            raise StatedError("both token and token_file are given", "Keep token_file, remove token.")
        if self.url is None and (self.token is not None or self.token_file is not None):
            raise StatedError("a token is given without url", "Add url: where the InfluxDB is.")
        return self

    @property
    def enabled(self) -> bool:
        """True where there is somewhere to copy to."""
        return self.url is not None

    def reveal_token(self) -> SecretStr | None:
        """Give the token, read from its file where it has one. Raises ConfigError, never with the token."""
        if self.token_file is not None:
            return SecretStr(read_secret(self.token_file, "settings.toml", "mirror.token_file"))
        return None if self.token is None else SecretStr(self.token.get_secret_value().strip())


def mirror_mistakes(mirror: MirrorSettings, file: str) -> Iterator[Mistake]:
    """Find an address that cannot work, a token that cannot be read, sent or kept to oneself; asks no network."""
    if mirror.url is not None and not _is_plain_start(mirror.url):
        yield Mistake(file, "mirror.url", "this is not the start of a web address, and nothing else", _HINT)
    try:
        token = mirror.reveal_token()
    except ConfigError as error:
        yield from (replace(one, file=file) for one in found(error))
        return
    if token is not None and not _is_one_line(token.get_secret_value()):
        hint = "Copy the token once more, alone and in one line."
        yield Mistake(file, "mirror.token", "the token has characters in it that no request can carry", hint)
    if token is not None and mirror.url is not None and _is_open_to_others(mirror.url):
        reason = "the token goes to another machine over plain http, for everybody in that network to read"
        hint = "Let the InfluxDB, or a proxy before it, answer https, and begin url with that."
        yield Mistake(file, "mirror.url", reason, hint, severity="warning")


def _is_plain_start(url: str) -> bool:
    if not is_web_address(url):
        return False
    parts = urlsplit(url)
    return not (parts.username or parts.password or parts.query or parts.fragment)


def _is_open_to_others(url: str) -> bool:
    return url.lower().startswith("http:") and not is_loopback(url)


def _is_one_line(token: str) -> bool:
    return token.isascii() and token.isprintable()
