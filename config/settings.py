"""Settings of the service: `settings.toml` of the site folder, overruled by environment variables.

`CLUTCHWARDEN_BROKER__HOST` overrules `host` of `[broker]`. Secrets may come from files of their own (`password_file`).
"""

import os
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple, Self

from pydantic import Field, SecretStr, ValidationError, model_validator
from pydantic_settings import BaseSettings, PydanticBaseSettingsSource, SettingsConfigDict

from config.backup import BackupSettings, backup_mistakes
from config.broker_caution import broker_cautions
from config.environment import FILE as ENVIRONMENT
from config.environment import PREFIX, environment_mistakes, variable_of
from config.errors import ConfigError, Mistake, StatedError, refuse
from config.heartbeat import HeartbeatSettings, heartbeat_mistakes
from config.mirror import FILES as MIRROR_FILES
from config.mirror import MirrorSettings, mirror_mistakes
from config.model import Table, Text
from config.plain import nearest, translate
from config.public_url import LOOPBACK
from config.secret_file import found, located, opened, read_secret
from config.tomlfile import read_toml
from config.web import FILES as WEB_FILES
from config.web import WebSettings, web_mistakes

FILE = "settings.toml"
_HEARTBEAT_FILES = ("url_file", "fail_url_file")
_BROKER_FILES = ("password_file", "ca_file", "certificate_file", "key_file")
Port = Annotated[int, Field(ge=1, le=65535)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]


class BrokerSettings(Table):
    """The MQTT broker. `keep_alive_s` in seconds; `session_expiry_days`: how long the broker keeps messages for us."""

    host: Text = "127.0.0.1"
    port: Port = 1883
    embedded: bool = False
    username: Text | None = None
    password: SecretStr | None = None
    password_file: Path | None = None
    tls: bool = False
    ca_file: Path | None = None
    certificate_file: Path | None = None
    key_file: Path | None = None
    client_id: Text = "clutchwarden"
    keep_alive_s: Annotated[int, Field(ge=2, le=65535)] = 30
    protocol: Literal["5", "3.1.1"] = "5"
    session_expiry_days: Annotated[float, Field(gt=0, le=49_710)] = 14.0
    """MQTT 5.0 clause 3.1.2.11.2 counts it in seconds in four bytes."""

    @model_validator(mode="before")
    @classmethod
    def _inner_broker_speaks_311(cls, stated: Any) -> Any:
        """The inner broker knows MQTT 3.1.1 only, so that is the default with it."""
        if isinstance(stated, dict) and stated.get("embedded") in (True, "true", "1") and "protocol" not in stated:
            return {**stated, "protocol": "3.1.1"}
        return stated

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        if self.embedded and self.protocol != "3.1.1":
            raise StatedError("the inner broker speaks MQTT 3.1.1 only", 'Set protocol = "3.1.1", or remove it.')
        if self.embedded and self.host not in LOOPBACK and self.username is None:
            raise StatedError(
                "the inner broker would let in everybody who reaches this machine",
                "Add username and password_file to [broker], or let it listen on 127.0.0.1.",
            )
        if self.password is not None and self.password_file is not None:
            raise StatedError("both password and password_file are given", "Keep password_file, remove password.")
        if self.username is None and (self.password is not None or self.password_file is not None):
            raise StatedError("a password is given without a username", "Add username to [broker].")
        if (self.certificate_file is None) != (self.key_file is None):
            raise StatedError("certificate_file and key_file belong together", "Give both, or neither.")
        if not self.tls and any((self.ca_file, self.certificate_file)):
            raise StatedError("certificates are given, but tls is false", "Set tls = true, or remove the certificates.")
        return self

    def reveal_password(self) -> str | None:
        """Give the password, read from its file where it has one. Raises ConfigError, never with the password."""
        if self.password_file is not None:
            return read_secret(self.password_file, FILE, "broker.password_file")
        return None if self.password is None else self.password.get_secret_value()


class StorageSettings(Table):
    """Where the journal lies."""

    journal: Path = Path("data/journal.sqlite3")


class IngestSettings(Table):
    """What of a message is accepted: seconds that it may lie in the future, and its largest size in bytes."""

    future_tolerance_s: Annotated[float, Field(ge=0, allow_inf_nan=False)] = 120.0
    largest_payload_bytes: Annotated[int, Field(ge=256, le=16_777_216)] = 65_536


class DeliverySettings(Table):
    """Seconds to wait for a service that delivers an alert."""

    timeout_s: Positive = 10.0


class HeatSettings(Table):
    """A step between two good readings that is longer than this, in seconds, is a gap and adds no heat."""

    longest_bridge_s: Positive = 1800.0


class Settings(BaseSettings):
    """All settings. Paths are absolute after `load_settings`."""

    model_config = SettingsConfigDict(
        frozen=True,
        extra="forbid",
        hide_input_in_errors=True,
        env_prefix=PREFIX,
        env_nested_delimiter="__",
        enable_decoding=False,
    )

    broker: BrokerSettings = BrokerSettings()
    storage: StorageSettings = StorageSettings()
    web: WebSettings = WebSettings()
    ingest: IngestSettings = IngestSettings()
    delivery: DeliverySettings = DeliverySettings()
    heat: HeatSettings = HeatSettings()
    heartbeat: HeartbeatSettings = HeartbeatSettings()
    backup: BackupSettings = BackupSettings()
    mirror: MirrorSettings = MirrorSettings()

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Let the environment overrule the file, whose tables come as arguments."""
        del settings_cls, dotenv_settings, file_secret_settings
        return env_settings, init_settings


class SettingsRead(NamedTuple):
    """The settings where they can be used, and whatever was found on the way."""

    settings: Settings | None
    mistakes: tuple[Mistake, ...]


def read_settings(folder: Path) -> SettingsRead:
    """Read and check the settings of a folder; without the file the defaults hold. Never raises for what is stated."""
    stated: dict[str, Any] | None = {}
    mistakes = list(environment_mistakes(os.environ, _sections()))
    if (folder / FILE).exists():
        stated, unreadable = read_toml(folder / FILE, FILE)
        mistakes.extend(unreadable)
    tables = {name: table for name, table in (stated or {}).items() if name in Settings.model_fields}
    mistakes.extend(
        Mistake(FILE, name, f'"{name}" is not a key that can stand here', nearest(name, _sections()))
        for name in stated or {}
        if name not in tables
    )
    try:
        settings = _with_absolute_paths(Settings(**tables), folder.resolve())
    except ValidationError as error:
        told = {mistake.key for mistake in mistakes}
        mistakes.extend(mistake for mistake in _stated_where(error, tables) if mistake.key not in told)
        return SettingsRead(None, tuple(mistakes))
    mistakes.extend(_missing_files(settings.broker))
    mistakes.extend(broker_cautions(settings.broker, FILE))
    mistakes.extend(heartbeat_mistakes(settings.heartbeat, FILE))
    mistakes.extend(web_mistakes(settings.web, FILE))
    mistakes.extend(backup_mistakes(settings.backup, settings.storage.journal, FILE))
    mistakes.extend(mirror_mistakes(settings.mirror, FILE))
    wrong = any(mistake.severity == "mistake" for mistake in mistakes)
    return SettingsRead(None if wrong else settings, tuple(mistakes))


def load_settings(folder: Path) -> Settings:
    """Read the settings of a site folder; paths come out absolute. Raises ConfigError with every mistake."""
    settings, mistakes = read_settings(folder)
    refuse(mistakes)
    if settings is None:
        raise AssertionError("settings that cannot be used have a mistake to show for it")
    return settings


def _sections() -> dict[str, list[str]]:
    return {name: list(type(field.default).model_fields) for name, field in Settings.model_fields.items()}


def _stated_where(error: ValidationError, tables: Mapping[str, Any]) -> Iterator[Mistake]:
    """Name the variable rather than the file for what came from the environment."""
    errors = error.errors(include_url=False)
    variables = {name.upper() for name in os.environ}
    for one, mistake in zip(errors, translate(errors, FILE, Settings, tables), strict=True):
        variable = variable_of(one["loc"])
        in_environment = variable in variables
        yield replace(mistake, file=ENVIRONMENT, key=variable) if in_environment else mistake


def _with_absolute_paths(settings: Settings, folder: Path) -> Settings:
    def files(table: Table, names: tuple[str, ...]) -> dict[str, Path]:
        return {name: located(folder, path) for name in names if (path := getattr(table, name)) is not None}

    storage = {"journal": folder / settings.storage.journal}
    backup = {"folder": None if settings.backup.folder is None else folder / settings.backup.folder}
    return settings.model_copy(
        update={
            "broker": settings.broker.model_copy(update=files(settings.broker, _BROKER_FILES)),
            "storage": settings.storage.model_copy(update=storage),
            "heartbeat": settings.heartbeat.model_copy(update=files(settings.heartbeat, _HEARTBEAT_FILES)),
            "web": settings.web.model_copy(update=files(settings.web, WEB_FILES)),
            "backup": settings.backup.model_copy(update=backup),
            "mirror": settings.mirror.model_copy(update=files(settings.mirror, MIRROR_FILES)),
        }
    )


def _missing_files(broker: BrokerSettings) -> Iterator[Mistake]:
    try:
        broker.reveal_password()
    except ConfigError as error:
        yield from found(error)
    for name in _BROKER_FILES[1:]:
        path = getattr(broker, name)
        if path is None:
            continue
        try:
            place = opened(path, FILE, f"broker.{name}")
        except ConfigError as error:
            yield from found(error)
            continue
        if not place.is_file():
            yield Mistake(FILE, f"broker.{name}", f"there is no file {path}", "Correct the path or put the file there.")
