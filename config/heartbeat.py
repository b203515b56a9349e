"""`[heartbeat]` of settings.toml: where the daemon says, again and again, that it is well."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, SecretStr, model_validator

from config.errors import ConfigError, Mistake, StatedError
from config.model import Table
from config.secret_file import found, read_secret
from config.web_address import is_web_address

_HINT = "Copy the whole address, beginning with https:// or http:// and without spaces or line breaks."


class HeartbeatSettings(Table):
    """An address of an outside check, asked every `every_s` seconds while all is well; `fail_url` while it is not."""

    url: SecretStr | None = None
    url_file: Path | None = None
    fail_url: SecretStr | None = None
    fail_url_file: Path | None = None
    method: Literal["POST", "GET"] = "POST"
    every_s: Annotated[float, Field(ge=1, le=3600, allow_inf_nan=False)] = 60.0
    timeout_s: Annotated[float, Field(gt=0, le=60, allow_inf_nan=False)] = 10.0

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        for name, inside, own_file in (
            ("url", self.url, self.url_file),
            ("fail_url", self.fail_url, self.fail_url_file),
        ):
            if inside is not None and own_file is not None:
                raise StatedError(f"both {name} and {name}_file are given", f"Keep {name}_file, remove {name}.")
        if not self.enabled and (self.fail_url is not None or self.fail_url_file is not None):
            raise StatedError("fail_url is given without url", "Add url_file: the address that is asked while well.")
        return self

    @property
    def enabled(self) -> bool:
        """True where there is an address to tell."""
        return self.url is not None or self.url_file is not None

    def reveal_url(self) -> SecretStr | None:
        """Give the address for well, read from its file where it has one. Raises ConfigError, never with it."""
        return _reveal(self.url, self.url_file, "url")

    def reveal_fail_url(self) -> SecretStr | None:
        """Give the address for not well, in the same way."""
        return _reveal(self.fail_url, self.fail_url_file, "fail_url")


def heartbeat_mistakes(heartbeat: HeartbeatSettings, file: str) -> Iterator[Mistake]:
    """Find addresses that cannot work, and files that cannot be read; `file` is the file that states them."""
    for name, reveal in (("url", heartbeat.reveal_url), ("fail_url", heartbeat.reveal_fail_url)):
        try:
            address = reveal()
        except ConfigError as error:
            yield from (replace(one, file=file) for one in found(error))
            continue
        if address is not None and not is_web_address(address.get_secret_value()):
            yield Mistake(
                file, f"heartbeat.{name}", "this is not a web address, http:// or https://, with a host", _HINT
            )


def _reveal(inside: SecretStr | None, own_file: Path | None, name: str) -> SecretStr | None:
    if own_file is not None:
        return SecretStr(read_secret(own_file, "settings.toml", f"heartbeat.{name}_file"))
    return None if inside is None else SecretStr(inside.get_secret_value().strip())
