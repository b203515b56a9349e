"""The agent's file: what it may say, every mistake in words, and the file that the agent writes itself."""

import json
import os
import stat
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from config.errors import ConfigError
from daemon.cli import main as cli
from sensors.agent.__main__ import main
from sensors.agent.plan import Bounds
from sensors.agent.stated import load_plan
from sensors.linux.addresses import ContactCommand, ContactFile, Hwmon, Iio, OneWire
from tests.support.sysfs import FRAME_25_C, Sysfs, w1_slave

WHOLE = """\
sysfs = "/host/sys"
[broker]
host = "incubators.example"
port = 8883
username = "north"
password_file = "secret"
protocol = "3.1.1"
prefix = "barn/eggs"
[spool]
folder = "/var/lib/spool"
largest_mb = 10
longest_days = 7
[clock]
source = "own"
[[probe]]
id = "north-air"
interval_s = 30
[[probe.channel]]
name = "t"
kind = "1-wire"
device = "28-0316a2795bff"
[[probe.channel]]
name = "rh"
kind = "iio"
chip = "hdc100x"
at = "1-0040"
reading = "humidityrelative"
[[probe.channel]]
name = "lid"
kind = "hwmon"
chip = "sht3x"
reading = "temp1"
[[probe]]
id = "mains"
interval_s = 5
[[probe.channel]]
name = "mains"
kind = "file"
path = "/sys/class/gpio/gpio17/value"
max_age_s = 20
[[probe.channel]]
name = "door"
kind = "command"
command = ["/usr/bin/gpioget", "-c", "gpiochip0", "17"]
one = "active"
zero = "inactive"
timeout_s = 2
"""
LEAST = """\
[broker]
host = "incubators.example"
[[probe]]
id = "north-air"
[[probe.channel]]
name = "t"
kind = "1-wire"
device = "28-0316a2795bff"
"""
Mistakes = Callable[[str], str]


@pytest.fixture
def mistakes(tmp_path: Path) -> Mistakes:
    def found(text: str) -> str:
        (tmp_path / "probe.toml").write_text(text, encoding="utf-8")
        with pytest.raises(ConfigError) as refused:
            load_plan(tmp_path / "probe.toml")
        return str(refused.value)

    return found


def secret(folder: Path, text: str = "hush-hush\n", mode: int = 0o600) -> None:
    (folder / "secret").write_text(text)
    (folder / "secret").chmod(mode)


def test_every_key_is_understood(tmp_path: Path) -> None:
    secret(tmp_path)
    (tmp_path / "probe.toml").write_text(WHOLE)
    plan = load_plan(tmp_path / "probe.toml")
    broker = plan.broker
    assert (broker.host, broker.port, broker.username, broker.password) == (
        "incubators.example",
        8883,
        "north",
        "hush-hush",
    )
    assert (broker.protocol, broker.prefix) == ("3.1.1", "barn/eggs")
    assert "hush-hush" not in repr(plan)
    assert (plan.folder, plan.bounds) == (Path("/var/lib/spool"), Bounds(10_000_000, 7 * 86_400_000))
    assert (plan.own_clock, plan.sysfs) == (True, Path("/host/sys"))
    assert [(probe.id, probe.interval_ms) for probe in plan.probes] == [("north-air", 30_000), ("mains", 5_000)]
    assert [(channel.name, channel.address) for probe in plan.probes for channel in probe.channels] == [
        ("t", OneWire("28-0316a2795bff")),
        ("rh", Iio("hdc100x", "1-0040", "humidityrelative")),
        ("lid", Hwmon("sht3x", "", "temp1")),
        ("mains", ContactFile("/sys/class/gpio/gpio17/value", "1", "0", 20)),
        ("door", ContactCommand(("/usr/bin/gpioget", "-c", "gpiochip0", "17"), "active", "inactive", 2)),
    ]


def test_the_example_has_no_mistakes_and_the_defaults_that_it_names(tmp_path: Path) -> None:
    plan = load_plan(Path("config/example/probe.toml"))
    assert len([channel for probe in plan.probes for channel in probe.channels]) == 5
    (tmp_path / "probe.toml").write_text(LEAST)
    least = load_plan(tmp_path / "probe.toml")
    assert (plan.broker, plan.bounds, plan.own_clock) == (least.broker, least.bounds, least.own_clock)
    assert plan.folder.name == least.folder.name


def test_little_is_enough(tmp_path: Path) -> None:
    (tmp_path / "probe.toml").write_text(LEAST)
    plan = load_plan(tmp_path / "probe.toml")
    assert (plan.broker.port, plan.broker.username, plan.broker.password) == (1883, None, None)
    assert (plan.folder, plan.own_clock, plan.probes[0].interval_ms) == (tmp_path / "spool", False, 60_000)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[broker]", "[broker]\nhots = 1", 'probe.toml: broker.hots\n  "hots" is not a key that can stand here'),
        ("[broker]", "[broker]\nhots = 1", 'Did you mean "host"?'),
        ("[broker]", "broker = 3\n[old]", "probe.toml: broker\n  this is not a table"),
        ('host = "incubators.example"', "", '"host" is missing'),
        ('host = "incubators.example"', "host = 5", "5 is not what can stand here\n  Give a text in quotes."),
        ('host = "incubators.example"', 'host = " "', "the text is empty"),
        ("[broker]", "[broker]\nport = 70000", "Give a number from 1 to 65535."),
        ("[broker]", "[broker]\nport = true", "true is not what can stand here"),
        ("[broker]", '[broker]\npassword = "hush-hush"', "a password does not belong into this file"),
        ("[broker]", '[broker]\nprotocol = "4"', "Known here: 3.1.1, 5."),
        ("[broker]", '[broker]\nprefix = "a/+"', "this cannot begin a topic"),
        ("[[probe]]", '[clock]\nsource = "owm"\n[[probe]]', 'Did you mean "own"?'),
        ("[[probe]]", "[spool]\nlargest_mb = 0\n[[probe]]", "probe.toml: spool.largest_mb"),
        ('id = "north-air"', "", 'probe.toml: probe#1.id\n  "id" is missing'),
        ('id = "north-air"', 'id = "north/air"', "this is not how such a name is written"),
        ("[[probe]]", "[[probe]]\ninterval_s = 0", "probe.toml: probe.north-air.interval_s"),
        ("[[probe]]", "[probe]", "Write [[probe]], in double brackets."),
        ('kind = "1-wire"', 'kind = "1wire"', 'Did you mean "1-wire"?'),
        ('kind = "1-wire"', "", "Give one of 1-wire, hwmon, iio, file, command."),
        ('kind = "1-wire"', 'kind = "hwmon"', 'probe.toml: probe.north-air.channel.t.chip\n  "chip" is missing'),
        ('kind = "1-wire"', 'kind = "command"', "a list of texts is wanted here"),
        ('device = "28-0316a2795bff"', 'device = "28-1"', "it looks like 28-0316a2795bff"),
        ('kind = "1-wire"\ndevice = "28-0316a2795bff"', 'kind = "file"\npath = "x"', "this is not a whole path"),
        ('kind = "1-wire"\ndevice = "28-0316a2795bff"', 'kind = "file"\npath = "/x"\none = "0"', "are the same"),
        ('name = "t"', 'name = "seq"', "what the agent itself sends under this name"),
        ("[broker]", "[broker", "not valid TOML at line 1"),
    ],
)
def test_a_mistake_is_named_with_its_place_and_what_to_do(mistakes: Mistakes, old: str, new: str, said: str) -> None:
    assert old in LEAST
    found = mistakes(LEAST.replace(old, new))
    assert said in found
    assert "hush-hush" not in found


def test_doubles_and_what_is_empty_are_named(mistakes: Mistakes) -> None:
    channel = LEAST[LEAST.index("[[probe.channel]]") :]
    assert "probe.toml: probe.north-air.channel.t\n  two have this name" in mistakes(LEAST + channel)
    assert "probe.toml: probe.north-air\n  two have this name" in mistakes(LEAST + LEAST[LEAST.index("[[probe]]") :])
    assert "there is no probe" in mistakes('[broker]\nhost = "a"\n')
    assert "this probe has no channel" in mistakes(LEAST.replace(channel, ""))


def test_a_password_stands_in_a_file_that_nobody_else_may_read(tmp_path: Path, mistakes: Mistakes) -> None:
    text = LEAST.replace("[broker]", '[broker]\nusername = "north"\npassword_file = "secret"')
    assert "the file cannot be read (No such file or directory)" in mistakes(text)
    for mode in (0o640, 0o604, 0o660):
        secret(tmp_path, mode=mode)
        found = mistakes(text)
        assert "other users of this board may read the file" in found
        assert "hush-hush" not in found
    secret(tmp_path, "\n")
    assert "the file is empty" in mistakes(text)
    secret(tmp_path)
    assert "a password without a name" in mistakes(text.replace('username = "north"', ""))


@pytest.fixture
def attached(tmp_path: Path) -> Path:
    sysfs = Sysfs(tmp_path / "sys")
    sysfs.one_wire("28-0316a2795bff", {"w1_slave": w1_slave(FRAME_25_C, 25_062)})
    sysfs.one_wire("28-00000a1b2c3d", {"w1_slave": ""})
    sysfs.hwmon(0, "cpu_thermal", {"temp1_input": "51000\n"})
    sysfs.hwmon(1, "sht3x", {"temp1_input": "31250\n", "humidity1_input": "84600\n", "temp1_label": "lid\n"}, "1-0044")
    return sysfs.root


def test_what_is_attached_is_told_in_words(attached: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--list", "--sysfs", str(attached)]) == 0
    failed, *others = capsys.readouterr().out.splitlines()
    assert failed.startswith(
        "1-wire thermometer 28-00000a1b2c3d: no value; the kernel gave up reading it; the checksum"
    )
    assert others == [
        "1-wire thermometer 28-0316a2795bff: 25.06 °C",
        "temp1 of cpu_thermal (hwmon): 51.00 °C",
        "humidity1 of sht3x at 1-0044 (hwmon): 84.60 % RH",
        "temp1 of sht3x at 1-0044 (hwmon), lid: 31.25 °C",
    ]
    assert main(["--list", "--json", "--sysfs", str(attached)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [each["value"] for each in found] == [None, 25.062, 51.0, 84.6, 31.25]
    assert found[1]["channel"] == {"kind": "1-wire", "device": "28-0316a2795bff"}
    assert "checksum" in found[0]["fault"]


def test_nothing_attached_says_what_to_look_at(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--list", "--sysfs", str(tmp_path)]) == 0
    assert "Look at the cable" in capsys.readouterr().out


def test_the_file_that_is_written_is_one_that_can_be_used(
    tmp_path: Path, attached: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, password = tmp_path / "agent" / "probe.toml", tmp_path / "agent" / "broker-password"
    assert main(["--write-config", str(file), "--sysfs", str(attached)]) == 0
    assert "with 5 sensors" in capsys.readouterr().out
    assert stat.S_IMODE(password.stat().st_mode) == 0o600
    assert main(["--check", str(file)]) == 0
    assert "north-air. No mistakes." in capsys.readouterr().out
    assert load_plan(file).sysfs == attached
    [probe] = load_plan(file).probes
    assert [(channel.name, channel.address) for channel in probe.channels] == [
        ("t", OneWire("28-00000a1b2c3d")),
        ("t2", OneWire("28-0316a2795bff")),
        ("rh", Hwmon("sht3x", "1-0044", "humidity1")),
        ("t4", Hwmon("sht3x", "1-0044", "temp1")),
    ]
    assert '# chip = "cpu_thermal"' in file.read_text()


def test_a_file_that_is_there_is_never_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, password = tmp_path / "probe.toml", tmp_path / "broker-password"
    file.write_text("mine")
    password.write_text("mine too")
    assert main(["--write-config", str(file), "--sysfs", str(tmp_path)]) == 2
    assert "is there already; nothing was written" in capsys.readouterr().err
    assert main(["--write-config", str(tmp_path / "other.toml"), "--sysfs", str(tmp_path)]) == 0
    assert (file.read_text(), password.read_text()) == ("mine", "mine too")


def test_mistakes_end_with_2_and_a_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 2
    assert "clutchwarden probe --list" in capsys.readouterr().err
    assert main([str(tmp_path / "none.toml")]) == 2
    assert "there is no such file" in capsys.readouterr().err


def test_the_command_becomes_the_agent_with_the_same_wishes(monkeypatch: pytest.MonkeyPatch) -> None:
    became: list[list[str]] = []

    def execv(_program: str, words: list[str]) -> None:
        became.append(words)
        raise SystemExit(0)

    monkeypatch.setattr(os, "execv", execv)
    for words in (["-odd.toml"], ["--check", "p.toml"], ["--list", "--json"], ["--write-config", "p.toml"]):
        asked = ["--", *words] if words[0].startswith("-o") else words
        monkeypatch.setattr(sys, "argv", ["clutchwarden", "probe", *asked])
        with pytest.raises(SystemExit):
            cli()
    assert [words[4:] for words in became] == [
        ["--sysfs", "/sys", "--", "-odd.toml"],
        ["--check", "--sysfs", "/sys", "--", "p.toml"],
        ["--list", "--json", "--sysfs", "/sys"],
        ["--sysfs", "/sys", "--write-config", "p.toml"],
    ]
    assert all(words[1:4] == ["-P", "-m", "sensors.agent"] for words in became)
