"""The file of the watcher on a second machine: whom it watches, when it speaks, and to whom."""

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, NamedTuple, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import Field, SecretStr, model_validator

from config.contacts import contact_mistakes
from config.errors import ConfigError, Mistake, StatedError, refuse
from config.model import Person, Site, Table, Text
from config.salvage import salvage
from config.secret_file import as_service, located, read_secret
from config.secret_file import found as as_found
from config.tomlfile import read_toml
from config.web_address import is_web_address

LATEST_S = 150
"""Whoever watches is told within so many seconds: `silence_s`, a step, and one slow attempt to send fit into it."""
_SHORTEST_TOKEN = 16
_SPAN = {"gt": 0, "allow_inf_nan": False}
_PLAIN = "Copy the whole address, beginning with https:// or http:// and without spaces or line breaks."


class Poll(Table):
    """The watcher asks: the daemon's `/health`, every `every_s` seconds, and waits `timeout_s` for the answer."""

    url: SecretStr | None = None
    url_file: Path | None = None
    every_s: Annotated[float, Field(le=60, **_SPAN)] = 30.0
    timeout_s: Annotated[float, Field(le=30, **_SPAN)] = 10.0

    @model_validator(mode="after")
    def _exactly_one(self) -> Self:
        if (self.url is None) == (self.url_file is None):
            found = "neither url nor url_file is given" if self.url is None else "both url and url_file are given"
            raise StatedError(found, "Give one of the two: the address of the daemon's /health.")
        return self


class Listen(Table):
    """The daemon speaks: its heartbeats come to the watcher's own port, at /heartbeat/ and the token."""

    token_file: Path


class Speaking(Table):
    """When it is told and told again; seconds, and hours that an answer holds. See `daemon/watcher/rules.py`."""

    silence_s: Annotated[float, Field(le=120, **_SPAN)] = 120.0
    repeat_s: Annotated[float, Field(le=3600, **_SPAN)] = 300.0
    back_after_s: Annotated[float, Field(le=600, **_SPAN)] = 45.0
    answer_holds_h: Annotated[float, Field(le=24, **_SPAN)] = 6.0


class Page(Table):
    """The watcher's own port. `url` is how a phone reaches it, for the link in a message."""

    host: Text = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=65535)] = 8331
    url: Text | None = None


class Sending(Table):
    """Seconds to wait for a service that delivers a message."""

    timeout_s: Annotated[float, Field(le=10, **_SPAN)] = 10.0


class Watch(Table):
    """The whole file. `name` is what messages call what is watched."""

    name: Text
    time_zone: Text
    state_file: Path | None = None
    poll: Poll | None = None
    listen: Listen | None = None
    alarm: Speaking = Speaking()
    page: Page = Page()
    delivery: Sending = Sending()
    people: Annotated[tuple[Person, ...], Field(validation_alias="person")] = ()

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        if (self.poll is None) == (self.listen is None):
            found = (
                "neither [poll] nor [listen] is given" if self.poll is None else "both [poll] and [listen] are given"
            )
            raise StatedError(found, "Give one: [poll] asks the daemon, [listen] waits for its heartbeat.")
        if self.poll is not None and self.poll.every_s + 2 * self.poll.timeout_s >= self.alarm.silence_s:
            raise StatedError(
                "one answer that is late would be an alarm already",
                "Make silence_s of [alarm] longer than every_s and twice timeout_s of [poll] together.",
            )
        return self


class WatchFile(NamedTuple):
    """The file where it can be used, with what it keeps in files of their own."""

    path: Path
    stated: Watch
    health_url: SecretStr | None
    heartbeat_token: SecretStr | None
    warnings: tuple[Mistake, ...] = ()

    @property
    def folder(self) -> Path:
        """Where relative paths begin."""
        return self.path.parent

    @property
    def state_path(self) -> Path:
        """Where the watcher keeps what it remembers; as a service in the folder that systemd made for it."""
        if self.stated.state_file is not None:
            return self.folder / self.stated.state_file
        return self.folder / os.environ.get("STATE_DIRECTORY", "") / self.path.with_suffix(".state.json").name

    @property
    def site(self) -> Site:
        """The people in the form in which the code that sends knows them."""
        return _as_site(self.stated)


def load_watch(path: Path, *, to_watch: bool = True) -> WatchFile:
    """Read and check the file. Raises ConfigError with every mistake.

    Whoever only looks at the file goes without the secrets that the service alone can see.
    """
    path = path.absolute()
    document, unreadable = read_toml(path, path.name)
    if document is None:
        raise ConfigError(unreadable)
    watch, mistakes = _understood(document, path.name)
    if watch is None:
        raise ConfigError(mistakes)
    found = list(mistakes)
    found.extend(_zone_mistakes(watch, path.name))
    if not any(mistake.key.startswith("person") for mistake in mistakes):
        found.extend(_people_mistakes(watch, path))
    if watch.page.url is not None and not is_web_address(watch.page.url):
        reason = "this is not a web address, http:// or https://, with a host"
        found.append(Mistake(path.name, "page.url", reason, _PLAIN))
    health_url, token = _secrets(watch, path, found)
    refuse(as_service(found) if to_watch else found)
    return WatchFile(path, watch, health_url, token, tuple(found))


def _understood(document: dict[str, Any], file: str) -> tuple[Watch | None, tuple[Mistake, ...]]:
    stand_in: dict[tuple[int | str, ...], Any] = {("name",): "?", ("time_zone",): "UTC"}
    watch, findings = salvage(Watch, document, file, stand_in)
    return watch, findings.mistakes


def _zone_mistakes(watch: Watch, file: str) -> Iterator[Mistake]:
    try:
        ZoneInfo(watch.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        reason = f'"{watch.time_zone}" is not in the IANA time zone database'
        yield Mistake(file, "time_zone", reason, "Write it as in Europe/Vienna, or UTC.")


def _people_mistakes(watch: Watch, path: Path) -> Iterator[Mistake]:
    if not any(person.contacts for person in watch.people):
        hint = "Add a [[person]] with a [[person.contact]]; a complete example comes with clutchwarden."
        yield Mistake(path.name, "person", "nobody is named whom the watcher could tell", hint)
    idents = [person.id for person in watch.people]
    for ident in sorted({one for one in idents if idents.count(one) > 1}):
        yield Mistake(path.name, f"person.{ident}.id", "two people have this id", "Give each an id of their own.")
    for mistake in contact_mistakes(_as_site(watch), path.parent):
        yield replace(mistake, file=path.name)


def _secrets(watch: Watch, path: Path, found: list[Mistake]) -> tuple[SecretStr | None, SecretStr | None]:
    """Read the address to ask, or the token to listen for; what is wrong goes to `found`."""
    try:
        if watch.listen is not None:
            token = read_secret(located(path.parent, watch.listen.token_file), path.name, "listen.token_file")
            if (
                len(token) < _SHORTEST_TOKEN
                or not token.isascii()
                or not token.replace("-", "").replace("_", "").isalnum()
            ):
                hint = "Make one with: openssl rand -hex 16"
                reason = f"the token needs {_SHORTEST_TOKEN} letters without accents and digits, or more"
                found.append(Mistake(path.name, "listen.token_file", reason, hint))
            return None, SecretStr(token)
        poll = watch.poll or Poll(url=SecretStr(""))
        address = "" if poll.url is None else poll.url.get_secret_value().strip()
        if poll.url_file is not None:
            address = read_secret(located(path.parent, poll.url_file), path.name, "poll.url_file")
    except ConfigError as error:
        found.extend(as_found(error))
        return None, None
    if not is_web_address(address):
        found.append(
            Mistake(path.name, "poll.url", "this is not a web address, http:// or https://, with a host", _PLAIN)
        )
    return SecretStr(address), None


def _as_site(watch: Watch) -> Site:
    return Site(name=watch.name, time_zone=watch.time_zone, people=watch.people)
