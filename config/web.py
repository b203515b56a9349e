"""`[web]` of settings.toml: where the pages are, and what keeps others from reading along."""

import ipaddress
import ssl
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from config.errors import ConfigError, Mistake, StatedError
from config.model import Table, Text
from config.public_url import LOOPBACK, public_start
from config.secret_file import found, opened, seen

FILES = ("certificate_file", "key_file")
_PORT = Annotated[int, Field(ge=1, le=65535)]
_HOW_TO_REACH = (
    'Give certificate_file and key_file, or keep host = "127.0.0.1" and let a reverse proxy with TLS stand before it'
    " (behind_proxy = true). Only in a network where nobody reads along: plain_http_accepted = true."
)
_PROXIES = 'Give addresses or networks, for example ["127.0.0.1", "10.0.0.0/8"].'


class WebSettings(Table):
    """The pages. The default host is reached from this machine only.

    `public_url` is how a phone reaches them: the start of the links in messages. Without it there are none.
    `behind_proxy`: a reverse proxy with TLS stands before them, at one of the `trusted_proxies`.
    `plain_http_accepted`: whoever reads along on the net may have the passwords.
    """

    enabled: bool = True
    host: Text = "127.0.0.1"
    port: _PORT = 8330
    certificate_file: Path | None = None
    key_file: Path | None = None
    behind_proxy: bool = False
    trusted_proxies: tuple[Text, ...] = ("127.0.0.1", "::1")
    # Before the address: that is judged by it.
    plain_http_accepted: bool = False
    public_url: Text | None = None

    @field_validator("trusted_proxies", mode="before")
    @classmethod
    def _as_list(cls, stated: Any) -> Any:
        """An environment variable has them with commas between."""
        return [each.strip() for each in stated.split(",")] if isinstance(stated, str) else stated

    @field_validator("trusted_proxies")
    @classmethod
    def _are_addresses(cls, stated: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(_address(each) for each in stated)

    @field_validator("public_url")
    @classmethod
    def _is_a_start(cls, stated: str | None, info: ValidationInfo) -> str | None:
        accepted = bool(info.data.get("plain_http_accepted"))
        return None if stated is None else public_start(stated, plain_http_accepted=accepted)

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        if self.public_url is not None and not self.enabled:
            hint = "Set enabled = true, or remove public_url; messages then have no links."
            raise StatedError("public_url is given, but the pages that links lead to are switched off", hint)
        if (self.certificate_file is None) != (self.key_file is None):
            raise StatedError("certificate_file and key_file belong together", "Give both, or neither.")
        if self.behind_proxy and not self.is_public_by_https:
            hint = 'Add public_url = "https://...", the address that the proxy answers to, or remove behind_proxy.'
            raise StatedError("behind_proxy is given, but public_url does not begin with https://", hint)
        if "trusted_proxies" in self.model_fields_set and not self.behind_proxy:
            hint = "Set behind_proxy = true, or remove trusted_proxies."
            raise StatedError("trusted_proxies is given, but behind_proxy is false", hint)
        return self

    @property
    def certificate(self) -> tuple[Path, Path] | None:
        """The files of the certificate and of its key; None for plain http."""
        if self.certificate_file is None or self.key_file is None:
            return None
        return seen(self.certificate_file), seen(self.key_file)

    @property
    def served_by_tls(self) -> bool:
        """True where browsers reach the pages themselves by https."""
        return self.certificate is not None

    @property
    def is_public_by_https(self) -> bool:
        """True where links begin with https://."""
        return self.public_url is not None and self.public_url.startswith("https://")

    @property
    def is_readable_on_the_way(self) -> bool:
        """True where passwords would cross the net for everybody to read, and nobody said that this is all right."""
        return self.host not in LOOPBACK and not (self.served_by_tls or self.behind_proxy or self.plain_http_accepted)


def _address(stated: str) -> str:
    try:
        network = ipaddress.ip_network(stated, strict=False)
    except ValueError:
        raise StatedError(f'"{stated[:40]}" is not an address', _PROXIES) from None
    return str(network) if "/" in stated else str(network.network_address)


def web_mistakes(web: WebSettings, file: str) -> Iterator[Mistake]:
    """Find what would let others read along, and certificates that cannot be used; `file` states them."""
    if not web.enabled:
        return
    if web.is_readable_on_the_way:
        reason = "other machines could reach the pages, and read passwords on the way: there is no TLS"
        yield Mistake(file, "web.host", reason, _HOW_TO_REACH)
    if web.is_public_by_https and not web.served_by_tls and not web.behind_proxy:
        reason = "links begin with https://, and nothing says what answers there"
        hint = "Set behind_proxy = true where a reverse proxy does, or give certificate_file and key_file."
        yield Mistake(file, "web.public_url", reason, hint, "warning")
    yield from _certificate_mistakes(web, file)


def _certificate_mistakes(web: WebSettings, file: str) -> Iterator[Mistake]:
    if web.certificate is None:
        return
    missing = False
    for name in FILES:
        path = getattr(web, name)
        try:
            opened(path, file, f"web.{name}").read_bytes()
        except ConfigError as error:
            missing = True
            yield from found(error)
        except OSError as error:
            missing = True
            reason = f"the file {path} cannot be read: {error.strerror or error}"
            yield Mistake(file, f"web.{name}", reason, "Correct the path, or let clutchwarden's account read the file.")
    if missing:
        return
    try:
        # Without a word here, the passphrase of a key would be asked for at the terminal, where nobody is.
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(*web.certificate, password="")
    except (OSError, ValueError):
        reason = "certificate and key cannot be used: they do not belong together, are no PEM, or need a passphrase"
        hint = (
            "Give the PEM file of the certificate with its chain, and the key that was made for it, without passphrase."
        )
        yield Mistake(file, "web.certificate_file", reason, hint)
