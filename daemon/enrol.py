"""Probes and their accounts at the broker, Mosquitto or the inner one: enrolled, dismissed, listed."""

import contextlib
import pwd
import re
import secrets
import socket
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from config.broker_caution import DAEMON_ACCOUNT as DAEMON
from config.broker_caution import PROBES_PORT
from config.errors import ConfigError, Mistake
from config.model import Probe, Site
from config.rules import FILE as SITE
from config.settings import FILE as SETTINGS
from config.settings import Port
from config.site import read_site
from config.tomlfile import read_toml
from daemon.enrol_file import (
    MOSQUITTO,
    EnrolError,
    Owner,
    acting_as,
    change,
    names,
    read,
    tell_mosquitto,
    write_secret,
)
from daemon.enrol_inner import FILE as INNER_FILE
from daemon.enrol_passwords import Entry, entries, hashed, with_entry, without
from daemon.enrol_text import Credentials, Door

BROKER_FOLDER = Path("/etc/mosquitto/clutchwarden")
PID_FILE = Path("/run/mosquitto/mosquitto.pid")
DAEMON_PASSWORD = Path("secrets") / "broker-password"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_PASSWORD_BYTES = 16
_SALT_BYTES = 12
_DEFAULT_PORT = 1883
_PORT = TypeAdapter(Port)
"""As the service reads it, which also takes "1884"."""


@dataclass(frozen=True, slots=True)
class Enrolment:
    """The accounts of one broker, and the probes of the site that they are for."""

    site_folder: Path
    site: Site
    passwords: Path
    broker: dict[str, Any]
    inner: bool
    pid_file: Path

    def enrol(self, name: str, *, again: bool) -> Credentials:
        """Make a password and enter it. Raises EnrolError: a name that is none, or is enrolled already."""
        self.probe(name)
        self._needs_names()
        return self._enter(name, again=again)

    def enrol_daemon(self, password_file: Path | None, *, again: bool) -> Path:
        """Make the daemon's own account at Mosquitto, and write its password to a file. Gives that file."""
        if self.inner:
            raise EnrolError("The inner broker takes the daemon by username and password_file in [broker] already.")
        file = password_file or self.site_folder / DAEMON_PASSWORD
        if file.exists() and not again:
            raise EnrolError(f"{file} is there already; nothing was changed. With --again it is written anew.")
        made = self._enter(DAEMON, again=again or not file.exists())
        # In the site folder as whom it belongs to; elsewhere, and then for him, only root may be able to write.
        owner = _owner_of(self.site_folder)
        try:
            with acting_as(owner) if password_file is None else contextlib.nullcontext():
                file.parent.mkdir(mode=0o700, exist_ok=True)
                write_secret(file, f"{made.password}\n", owner)
        except OSError as error:
            raise EnrolError(f"{file} cannot be written: {(error.strerror or str(error)).lower()}.") from None
        return file

    def dismiss(self, name: str) -> None:
        """Take a name out. Raises EnrolError where it is not enrolled."""
        with self._at_the_file():
            enrolled = names(self.passwords)
        if name not in enrolled:
            raise EnrolError(f"{_shown(name)} is not enrolled. Enrolled: {', '.join(enrolled) or 'nobody'}.")
        if name == DAEMON and not self.inner:
            raise EnrolError(f"{DAEMON} is the daemon's own name at the broker; without it nothing is heard any more.")
        with self._at_the_file():
            change(self.passwords, lambda text: without(text, name))

    def listed(self) -> list[tuple[str, str]]:
        """Give names and how each of them stands."""
        with self._at_the_file():
            enrolled = names(self.passwords)
        probes = [probe.id for probe in self.site.probes]
        found = [(name, "enrolled" if name in enrolled else "not enrolled") for name in probes]
        others = [name for name in enrolled if name not in probes]
        told = f"enrolled, and no probe of {SITE}"
        return found + [(name, "the daemon itself" if name == DAEMON and not self.inner else told) for name in others]

    def probe(self, name: str) -> Probe:
        """Give the probe of this name. Raises EnrolError, saying what to do, where there is none."""
        if _NAME.fullmatch(name) is None:
            raise EnrolError(
                f"{_shown(name)} is no id of a probe. One has letters without accents, digits, - _ and . only: at the "
                "broker it is a user name and a part of topics, where + # / and : mean something else."
            )
        if name == self._daemon_name():
            raise EnrolError(f"{name} is the daemon's own name at the broker. Give the probe another id in {SITE}.")
        found = next((probe for probe in self.site.probes if probe.id == name), None)
        if found is None:
            known = ", ".join(probe.id for probe in self.site.probes) or "none yet"
            raise EnrolError(
                f"{SITE} has no probe {name} (it has: {known}). Add it there first, as a [[probe]] with id, place and "
                "its channels, or at the page /set-up/probes; then enrol it."
            )
        return found

    def door(self, host: str | None, port: int | None) -> Door:
        """Give how a device reaches the broker, as far as files say it; `host` and `port` overrule them."""
        stated_port = self.broker["port"]
        if self.inner:
            return Door(host or socket.gethostname(), port or stated_port, inner=True)
        folder = self.passwords.parent
        authority = read(folder / "ca.pem")
        first = read(folder / "names").split()
        host = host or (first[0] if first else socket.gethostname())
        return Door(host, port or (PROBES_PORT if authority else stated_port), authority)

    def tell_broker(self) -> str:
        """Have the broker look at its file again; says what was done, or is to be done by hand."""
        if self.inner:
            return "The inner broker looks at its file by itself."
        try:
            return f"Mosquitto (process {tell_mosquitto(self.pid_file)}) reads its password file again."
        except EnrolError as error:
            return f"Mosquitto does not know it yet ({error}). Run: systemctl reload mosquitto (or send it a SIGHUP)."

    def _enter(self, name: str, *, again: bool) -> Credentials:
        made = Credentials(name, secrets.token_hex(_PASSWORD_BYTES))
        entry = Entry(name, hashed(made.password, secrets.token_bytes(_SALT_BYTES)))

        def rule(text: str) -> str:
            if name in entries(text) and not again:
                raise EnrolError(
                    f"{name} is enrolled already; nothing was changed. With --again it gets a new password, and the "
                    "device with the old one is turned away."
                )
            return with_entry(text, entry)

        with self._at_the_file():
            self._make_folder()
            change(self.passwords, rule, self._owner())
        return made

    def _make_folder(self) -> None:
        folder = self.passwords.parent
        if folder.is_dir():
            return
        if not self.inner:
            raise EnrolError(
                f"There is no folder {folder}. Put the broker's files there first (deploy/mosquitto/README.md), or "
                "name another one with --broker-folder. The inner broker is meant where [broker] says embedded = true."
            )
        try:
            folder.mkdir(mode=0o700)
        except OSError as error:
            raise EnrolError(f"{folder} cannot be made: {(error.strerror or str(error)).lower()}.") from None

    def _owner(self) -> Owner:
        """Whose a new file is: whoever runs the broker has to read it, and nobody else."""
        if self.inner:
            return _owner_of(self.site_folder)
        try:
            user = pwd.getpwnam(MOSQUITTO)
        except KeyError:
            return _owner_of(self.passwords.parent)
        return Owner(user.pw_uid, user.pw_gid)

    def _needs_names(self) -> None:
        if self.inner and not self.broker.get("username"):
            raise EnrolError(
                "The inner broker lets in everybody on this machine, and nobody else: there is nothing to enrol for. "
                f"For probes on other machines, set host, username and password_file in [broker] of {SETTINGS} first."
            )

    def _daemon_name(self) -> str:
        return str(self.broker.get("username", "")) if self.inner else DAEMON

    def _at_the_file(self) -> contextlib.AbstractContextManager[None]:
        """The inner broker's file lies in the site folder: root looks and writes there as whom that belongs to."""
        return acting_as(_owner_of(self.site_folder)) if self.inner else contextlib.nullcontext()


def enrolment(site_folder: Path, broker_folder: Path | None = None, pid_file: Path | None = None) -> Enrolment:
    """Read what the files state; environment variables, which the service may have, are not looked at.

    Raises ConfigError where site.toml or settings.toml cannot be read, or the port in it is none.
    """
    found = read_site(site_folder)
    if found.site is None:
        raise ConfigError(found.mistakes)
    # Not the whole of the settings: their secrets may be ones that only the service sees.
    document: dict[str, Any] | None = {}
    if (site_folder / SETTINGS).exists():
        document, unreadable = read_toml(site_folder / SETTINGS, SETTINGS)
        if document is None:
            raise ConfigError(unreadable)
    broker = (document or {}).get("broker", {})
    broker = broker if isinstance(broker, dict) else {}
    try:
        port = _PORT.validate_python(broker.get("port", _DEFAULT_PORT))
    except ValidationError:
        hint = f"Write a whole number from 1 to 65535, as in port = {_DEFAULT_PORT}."
        raise ConfigError([Mistake(SETTINGS, "broker.port", "this is no port", hint)]) from None
    broker = {**broker, "port": port}
    inner = broker.get("embedded") is True and broker_folder is None
    passwords = site_folder / INNER_FILE if inner else (broker_folder or BROKER_FOLDER) / "passwords"
    return Enrolment(site_folder, found.site, passwords, broker, inner, pid_file or PID_FILE)


def _owner_of(folder: Path) -> Owner:
    found = folder.stat()
    return Owner(found.st_uid, found.st_gid)


def _shown(name: str) -> str:
    return f'"{name[:64]}"' if name.isprintable() else "This"
