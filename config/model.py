"""The site as the keeper states it: incubators with zones and boxes, probes, people, alarm tuning.

Names of tables in the file are singular (`[[incubator.zone]]`), as TOML reads; the attributes here are plural.
"""

import os
from datetime import time
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, SecretBytes, SecretStr, field_validator, model_validator

from config.errors import ConfigError, Mistake, StatedError
from config.secret_file import located, read_secret
from config.signing_key import looks_like_key, read_signing_key
from config.time_of_day import read_time_of_day
from config.unprintable import has_unprintable
from config.words import AlarmKind, Quantity

Identifier = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$", max_length=64)]
"""The part of a SenML name (RFC 8428 section 4.5.1) that is also safe in a topic and in a path: no `:` and no `/`."""
NOT_BLANK = r"\S"
Text = Annotated[str, Field(pattern=NOT_BLANK)]
LONGEST_NAME = 80
"""Of a person. Project choice: a message on a phone has room for no more."""
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Share = Annotated[float, Field(strict=True, ge=0, le=1)]
Seconds = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)]

_SITE = "site.toml"
_KEY_FILE = "person.contact.signing_key_file"
_KEY_VARIABLE = "person.contact.signing_key_variable"
_OWN_FILE = "Put it into a file that only the user who runs clutchwarden may read, and write the name of that file."


class Table(BaseModel):
    """A table of a file: closed, fixed after reading, and silent about its input in errors (it may hold a secret)."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", validate_by_name=True, validate_by_alias=True, hide_input_in_errors=True
    )


class Box(Table):
    """The lidded container of one clutch. `temperature_factor` is the f of ISO 13788 of its lid, 0 to 1."""

    id: Identifier
    name: str = ""
    temperature_factor: Share | None = None


DAMPING_MIN = 10.0
"""How slowly eggs follow the air, minutes, where the keeper states nothing. Project choice: by lumped heat capacity,
density * specific heat * radius / (3 * heat transfer), an egg of 12 mm in still air takes about this long
(3.7 MJ/m3K * 6 mm / (3 * 10 W/m2K) = 12 min) and any larger one longer."""


class Zone(Table):
    """A shelf or part of an incubator with one climate.

    `damping_min`: time constant of the damped temperature that warnings watch, minutes; 0 for the reading itself. An
    hour at the most (project choice): a warning may come later by this much.
    """

    id: Identifier
    name: Text
    damping_min: Annotated[float, Field(strict=True, ge=0, le=60, allow_inf_nan=False)] = DAMPING_MIN
    boxes: tuple[Box, ...] = Field(default=(), validation_alias="box")


class Incubator(Table):
    """The heated cabinet or room. `temperature_factor` holds for all its boxes that state none of their own.

    `room_temperature_u_k` says how far the stated room may be off, as a standard uncertainty (k = 1); 3 K for a room
    that people live in is common practice, no source.
    """

    id: Identifier
    name: Text
    room_temperature_c: Number | None = None
    room_temperature_u_k: Annotated[float, Field(strict=True, gt=0, le=10, allow_inf_nan=False)] = 3.0
    temperature_factor: Share | None = None
    zones: tuple[Zone, ...] = Field(default=(), validation_alias="zone")


class ChannelSpec(Table):
    """One measured quantity of a probe; the name is that of its SenML record, or free for a foreign source.

    `accuracy`: the plus or minus of the probe's data sheet, K or % RH; None takes a usual one of the quantity.
    """

    name: Identifier
    quantity: Quantity
    accuracy: Number | None = None


class Source(Table):
    """Where a probe that does not speak SenML puts the value of one channel.

    `pointer` is a JSON pointer (RFC 6901) into the payload; None for a payload that is a plain number.
    """

    topic: Text
    channel: str
    pointer: str | None = None
    unit: Text
    scale: Number = 1.0
    time_pointer: str | None = None
    time_format: Literal["unix", "unix-ms", "rfc3339"] | None = None


ROOM = "room"
"""The place of a probe in the air around the incubators. All incubators of a site stand in one room."""


class Probe(Table):
    """A measuring device at one place. `interval_s`: how often it sends, seconds."""

    id: Identifier
    place: Text
    interval_s: Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)] = 60.0
    channels: tuple[ChannelSpec, ...] = Field(default=(), validation_alias="channel")
    sources: tuple[Source, ...] = Field(default=(), validation_alias="source")

    @property
    def is_contact(self) -> bool:
        """True for a probe that says how mains or door are, and measures nothing."""
        return bool(self.channels) and all(channel.quantity.is_contact for channel in self.channels)


class Contact(Table):
    """One way to reach a person. The address carries a token, so it is a secret, best kept in a file of its own."""

    kind: Literal["webhook", "apprise"]
    url: SecretStr | None = None
    url_file: Path | None = None
    signing_key_file: tuple[Path, ...] = ()
    signing_key_variable: tuple[str, ...] = ()
    """One file or variable, or a list: while the receiver changes from an old key to a new one, both sign."""

    @field_validator("signing_key_file", "signing_key_variable", mode="before")
    @classmethod
    def _one_or_several(cls, stated: Any) -> Any:
        """One name stands for a list of one."""
        listed = [stated] if isinstance(stated, str) else stated
        if not isinstance(listed, list | tuple) or not all(isinstance(each, str | Path) for each in listed):
            hint = 'Write "secrets/mara-key", or ["secrets/mara-key-new", "secrets/mara-key-old"] while it changes.'
            raise StatedError("this is neither a name in quotes nor a list of names in quotes", hint)
        if any(looks_like_key(str(each)) for each in listed):
            # Its name would be repeated where the file is not found.
            raise StatedError("a key stands here, where the name of a file or variable belongs", _OWN_FILE)
        return tuple(listed)

    @field_validator("url_file")
    @classmethod
    def _is_a_file(cls, stated: Path | None) -> Path | None:
        """Its name is repeated where it is not found, so it must not be the address itself."""
        if stated is not None and ":/" in str(stated):
            raise StatedError("an address stands here, where the name of a file belongs", _OWN_FILE)
        return stated

    @model_validator(mode="after")
    def _exactly_one(self) -> Self:
        if (self.url is None) == (self.url_file is None):
            found = "neither url nor url_file is given" if self.url is None else "both url and url_file are given"
            raise StatedError(found, "Give exactly one of the two; url_file keeps the token out of the site file.")
        if self.kind != "webhook" and (self.signing_key_file or self.signing_key_variable):
            hint = 'Remove the signing key, or use kind = "webhook".'
            raise StatedError("only a webhook is signed; a push service has no place for a signature", hint)
        return self

    def reveal(self, base: Path) -> str:
        """Give the address; a relative `url_file` is sought in `base`, the site folder. Raises ConfigError."""
        if self.url is not None:
            return self.url.get_secret_value().strip()
        return read_secret(located(base, self.url_file or Path()), _SITE, "person.contact.url_file")

    def reveal_signing_keys(self, base: Path) -> tuple[SecretBytes, ...]:
        """Give the keys that sign, those of files first. Raises ConfigError, never with a part of a key."""
        files = [
            (read_secret(located(base, path), _SITE, _KEY_FILE), _KEY_FILE, f"{path}") for path in self.signing_key_file
        ]
        variables = [(_of_environment(name), _KEY_VARIABLE, name) for name in self.signing_key_variable]
        keys = []
        for text, key, where in (*files, *variables):
            try:
                keys.append(read_signing_key(text))
            except StatedError as error:
                raise ConfigError([Mistake(_SITE, key, f"{where}: {error.reason}", error.hint)]) from None
        return tuple(keys)


class Person(Table):
    """Someone whom an alarm may reach. `emergency`: only where one of priority 1 stays unacknowledged."""

    id: Identifier
    name: Text
    """It goes into messages and journals, so it is one line that can be read. At most `LONGEST_NAME` letters."""
    emergency: Annotated[bool, Field(strict=True)] = False
    contacts: tuple[Contact, ...] = Field(default=(), validation_alias="contact")

    @field_validator("name")
    @classmethod
    def _is_a_name(cls, stated: str) -> str:
        if len(stated) > LONGEST_NAME or has_unprintable(stated):
            hint = f"Give at most {LONGEST_NAME} letters in one line, as the person is called in messages."
            raise StatedError("the name is too long, or has characters in it that nobody sees", hint)
        return stated


class Quiet(Table):
    """Hours of the day, in the zone of the site, in which alarms of the lowest priority wait; also past midnight."""

    start: time
    end: time

    @field_validator("start", "end", mode="before")
    @classmethod
    def _read(cls, stated: Any) -> time:
        return read_time_of_day(stated)

    @model_validator(mode="after")
    def _has_a_length(self) -> Self:
        if self.start == self.end:
            hint = "Give two times, or remove [quiet]: then there are no quiet hours."
            raise StatedError("the quiet hours end when they begin", hint)
        return self


class AlarmTuning(Table):
    """What the keeper changes of one alarm; None keeps the default. The deadband is in the unit of the quantity."""

    on_delay_s: Seconds | None = None
    off_delay_s: Seconds | None = None
    deadband: Seconds | None = None


class Care(Table):
    """When people have to look at eggs, days: a round through the boxes, and how long before the earliest hatch day."""

    round_every_days: Annotated[float, Field(strict=True, gt=0, le=366, allow_inf_nan=False)] = 7.0
    near_pipping_days: Annotated[float, Field(strict=True, ge=0, le=366, allow_inf_nan=False)] = 7.0


class MessageTimes(Table):
    """What is sent regularly, by the clock of the site: a test each week, each day a digest of the last one."""

    test: Annotated[bool, Field(strict=True)] = True
    test_day: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] = "sunday"
    test_time: time = time(18, 0)
    digest: Annotated[bool, Field(strict=True)] = True
    digest_time: time = time(7, 30)

    @field_validator("test_time", "digest_time", mode="before")
    @classmethod
    def _read(cls, stated: Any) -> time:
        return read_time_of_day(stated)


class Site(Table):
    """Everything stated about one site."""

    name: Text
    time_zone: Text
    temperature_unit: Literal["C", "F"] = "C"
    incubators: tuple[Incubator, ...] = ()
    probes: tuple[Probe, ...] = ()
    people: tuple[Person, ...] = ()
    quiet: Quiet | None = None
    alarms: dict[AlarmKind, AlarmTuning] = Field(default_factory=dict)
    care: Care = Care()
    messages: MessageTimes = MessageTimes()


def _of_environment(name: str) -> str:
    found = os.environ.get(name, "").strip()
    if not found:
        hint = "Set it for the user and the service that run clutchwarden, or name a file with signing_key_file."
        raise ConfigError([Mistake(_SITE, _KEY_VARIABLE, f"the environment variable {name} is not set", hint)])
    return found
