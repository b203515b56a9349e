"""Reads the agent's file and checks it, with every mistake in words."""

import os
import re
import ssl
import stat
from pathlib import Path
from typing import Any, Literal

from config.errors import ConfigError, Mistake, refuse
from config.secret_file import as_service, found, how_to_give, is_credential, located, opened, read_secret
from config.tomlfile import read_toml
from sensors.agent.packs import RESERVED
from sensors.agent.plan import AgentPlan, Bounds, BrokerPlan, ChannelPlan, ProbePlan
from sensors.agent.table import Table
from sensors.linux.addresses import Address, ContactCommand, ContactFile, Hwmon, Iio, OneWire
from sensors.secured import Tls, context

KINDS = ("1-wire", "hwmon", "iio", "file", "command")
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_ID_HINT = "Use letters without accents, digits, - _ and . only, and begin with a letter or digit, as in north-air."
_PREFIX = re.compile(r"[^\s+#/\0]+(/[^\s+#/\0]+)*")
_DEVICE = re.compile(r"[0-9a-f]{2}-[0-9a-f]{12}")
_HWMON = re.compile(r"(temp|humidity)[1-9][0-9]*")
_IIO = re.compile(r"(temp|humidityrelative)[0-9]*")
_MB, _DAY_MS = 1_000_000, 86_400_000
_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def load_plan(path: Path) -> AgentPlan:
    """Read and check the file, to run by it. Raises ConfigError with every mistake."""
    plan, warnings = look_at(path)
    refuse(as_service(warnings))
    return plan


def look_at(path: Path) -> tuple[AgentPlan, list[Mistake]]:
    """Read and check the file; gives what deserves a warning too. Raises ConfigError with every mistake."""
    path = path.absolute()
    document, unreadable = read_toml(path, path.name)
    if document is None:
        raise ConfigError(unreadable)
    mistakes: list[Mistake] = []
    plan = understood(document, path, mistakes)
    refuse(mistakes)
    return plan, mistakes


def understood(document: dict[str, Any], path: Path, mistakes: list[Mistake]) -> AgentPlan:
    """Understand what the file says; what is wrong goes to `mistakes`, and something harmless stands in for it."""
    whole = Table(document, path.name, "", mistakes)
    broker = _broker(whole.table("broker"), path)
    spool = whole.table("spool")
    # As a service it may write to the folder that systemd made for it, and to no other.
    folder = path.parent / spool.text("folder", os.environ.get("STATE_DIRECTORY") or "spool")
    bounds = Bounds(
        round(spool.number("largest_mb", 64.0, 1.0, 100_000.0) * _MB),
        round(spool.number("longest_days", 30.0, 1.0, 3650.0) * _DAY_MS),
    )
    spool.rest()
    clock = whole.table("clock")
    own_clock = clock.choice("source", "synchronised", ("synchronised", "own")) == "own"
    clock.rest()
    sysfs = Path(whole.text("sysfs", "/sys"))
    probes = tuple(_probe(each, path) for each in whole.tables("probe", "id"))
    whole.rest()
    if not probes and not mistakes:
        whole.wrong("probe", "there is no probe", "Add a [[probe]]; clutchwarden probe --list shows what is attached.")
    _no_doubles(whole, "probe", [probe.id for probe in probes])
    return AgentPlan(broker, folder, bounds, own_clock, sysfs, probes)


def _broker(table: Table, path: Path) -> BrokerPlan:
    tls = _tls(table, path.parent)
    host, port = table.text("host"), round(table.number("port", 8883 if tls else 1883, 1, 65535))
    username = table.text("username") if table.has("username") else None
    password = None
    if table.has("password"):
        table.wrong("password", "a password does not belong into this file", "Put it into a file; see password_file.")
        table.text("password")
    if table.has("password_file"):
        password = _password(table, located(path.parent, Path(table.text("password_file"))), path.name)
        if username is None:
            table.wrong("username", "a password without a name", "Add the user name that the broker knows.")
    protocol: Literal["5", "3.1.1"] = "5" if table.choice("protocol", "5", ("5", "3.1.1")) == "5" else "3.1.1"
    prefix = table.text("prefix", "clutchwarden")
    if prefix and _PREFIX.fullmatch(prefix) is None:
        table.wrong("prefix", "this cannot begin a topic", "Write it without +, #, spaces and a / at its ends.")
    keep_alive_s = round(table.number("keep_alive_s", 30, 2, 65_535))
    table.rest()
    return BrokerPlan(host, port, username, password, protocol, prefix, tls, keep_alive_s)


def _tls(table: Table, folder: Path) -> Tls | None:
    wanted, files = table.flag("tls", False), ("ca_file", "certificate_file", "key_file")
    stated = [located(folder, Path(table.text(key))) if table.has(key) else None for key in files]
    if not wanted:
        if any(stated):
            table.wrong("tls", "certificates are given, but tls is false", "Say tls = true, or remove them.")
        return None
    if (stated[1] is None) != (stated[2] is None):
        table.wrong("certificate_file", "certificate_file and key_file belong together", "Give both, or neither.")
        return Tls()
    try:
        tls = Tls(*(None if path is None else opened(path, "", key) for path, key in zip(stated, files, strict=True)))
    except ConfigError as error:
        for mistake in found(error):
            table.note(mistake)
        return Tls()
    try:
        context(tls)
    except OSError as error:
        why = error.strerror if type(error) is not ssl.SSLError and error.strerror else "not what such a file holds"
        hint = "Copy ca.pem from the broker anew; a key of our own has to belong to its certificate."
        table.wrong("ca_file", f"a certificate cannot be read ({why.lower()})", hint)
    return tls


def _password(table: Table, path: Path, file: str) -> str | None:
    if is_credential(path):
        try:
            return read_secret(path, file, "password_file")
        except ConfigError as error:
            for mistake in found(error):
                table.note(mistake)
            return None
    hint = f"Put the password alone into it, and run: chmod 600 {path}"
    try:
        mode = path.stat().st_mode
        text = path.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        hint = (isinstance(error, PermissionError) and how_to_give(path)) or hint
        table.wrong("password_file", f"the file cannot be read ({why})", hint)
        return None
    if mode & _OTHERS:
        table.wrong("password_file", "other users of this board may read the file", f"Run: chmod 600 {path}")
    if not text:
        table.wrong("password_file", "the file is empty", hint)
    return text


def _probe(table: Table, path: Path) -> ProbePlan:
    ident, password = _identifier(table, "id"), None
    if table.has("password_file"):
        password = _password(table, located(path.parent, Path(table.text("password_file"))), path.name)
    interval_s = table.number("interval_s", 60.0, 0.01, 86_400.0)
    channels = tuple(_channel(each) for each in table.tables("channel", "name"))
    table.rest()
    if not channels:
        table.wrong("channel", "this probe has no channel", "Add a [[probe.channel]] with name and kind.")
    _no_doubles(table, "channel", [channel.name for channel in channels])
    return ProbePlan(ident, round(interval_s * 1000), channels, password)


def _channel(table: Table) -> ChannelPlan:
    name = _identifier(table, "name")
    if name in RESERVED:
        table.wrong("name", f'"{name}" is what the agent itself sends under this name', "Choose another name.")
    kind = table.choice("kind", "", KINDS)
    address: Address
    if kind == "1-wire":
        address = OneWire(_matching(table, "device", _DEVICE, "28-0316a2795bff"))
    elif kind == "hwmon":
        address = Hwmon(table.text("chip"), table.text("at", ""), _matching(table, "reading", _HWMON, "temp1"))
    elif kind == "iio":
        address = Iio(table.text("chip"), table.text("at", ""), _matching(table, "reading", _IIO, "humidityrelative"))
    elif kind == "file":
        one, zero = _two_words(table)
        address = ContactFile(
            _whole_path(table, table.text("path")), one, zero, table.number("max_age_s", 0, 0, 86_400)
        )
    else:
        if not kind:
            table.wrong("kind", '"kind" is missing', f"Give one of {', '.join(KINDS)}.")
        one, zero = _two_words(table)
        command = table.words("command")
        _whole_path(table, command[0] if command else "/", "command")
        address = ContactCommand(command, one, zero, table.number("timeout_s", 5, 0.1, 30))
    table.rest()
    return ChannelPlan(name, address)


def _identifier(table: Table, key: str) -> str:
    return _matching(table, key, _ID, "", _ID_HINT)


def _matching(table: Table, key: str, pattern: re.Pattern[str], example: str, hint: str = "") -> str:
    found = table.text(key)
    if found and pattern.fullmatch(found) is None:
        hint = hint or f"Copy it from clutchwarden probe --list; it looks like {example}."
        table.wrong(key, "this is not how such a name is written", hint)
    return found


def _two_words(table: Table) -> tuple[str, str]:
    one, zero = table.text("one", "1").strip(), table.text("zero", "0").strip()
    if one == zero:
        table.wrong("zero", "one and zero are the same", "Give what is said for present or open, and for the other.")
    return one, zero


def _whole_path(table: Table, path: str, key: str = "path") -> str:
    if path and not path.startswith("/"):
        table.wrong(key, "this is not a whole path", "Begin it with /, since the agent may be started anywhere.")
    return path


def _no_doubles(table: Table, key: str, names: list[str]) -> None:
    for name in sorted({each for each in names if each and names.count(each) > 1}):
        table.wrong(f"{key}.{name}", "two have this name", "Give each a name of its own.")
