"""Enrolling probes: what is refused and why, what a device is told, and whose the file of passwords stays."""

import base64
import hashlib
import os
import stat
import tempfile
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from config.errors import ConfigError
from config.settings import load_settings
from daemon.cli import app
from daemon.enrol import Enrolment, enrolment
from daemon.enrol_file import EnrolError
from daemon.enrol_passwords import Entry, entries, hashed, is_right, with_entry, without
from daemon.enrol_text import whole
from sensors.agent.stated import load_plan
from sensors.decoder import Decoder
from sensors.reading import Accepted
from tests.support.household import SITE, write_site

NAMES = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,9}", fullmatch=True)
SOURCE = '[[probe.source]]\ntopic = "hatchery/porch/state"\nchannel = "air"\nunit = "degC"\n'
INNER = '[broker]\nembedded = true\nhost = "0.0.0.0"\nusername = "warden"\npassword_file = "secrets/word"\n'

SOMEBODY = 65_534
"""Another user's number; no such user needs to be there."""


def desk(folder: Path, broker: bool = True) -> Enrolment:
    """A site and, where it is wanted, the folder of a broker that does not run."""
    write_site(folder / "site", 1883)
    if broker:
        (folder / "broker").mkdir(exist_ok=True)
    return enrolment(folder / "site", folder / "broker", folder / "no.pid")


def test_the_hash_is_that_of_the_standard_in_the_form_of_the_file() -> None:
    # RFC 8018 by Python's own library; that the real broker takes it is told by tests/services/test_house_broker.py.
    salt = b"twelve bytes"
    kept = base64.b64encode(hashlib.pbkdf2_hmac("sha512", b"word", salt, 101)).decode()
    assert hashed("word", salt, 101) == f"$7$101${base64.b64encode(salt).decode()}${kept}"
    assert is_right(hashed("word", salt), "word")
    assert not is_right(hashed("word", salt), "Word")


@pytest.mark.parametrize(
    "stored", ["", "word", "$7$101$salt", "$6$c2FsdA==$aGFzaA==", "$7$0$c2Fs$aGE=", "$7$x$a$b", "$7$9999999$a$b"]
)
def test_what_is_no_hash_is_never_right(stored: str) -> None:
    assert not is_right(stored, "word")
    assert not is_right(stored, "")


@settings(deadline=None)
@given(st.dictionaries(NAMES, st.just("$7$1$a$b"), max_size=4), NAMES)
def test_one_entry_is_changed_and_no_other(before: dict[str, str], name: str) -> None:
    text = "# written by hand\n" + "".join(f"{each}:{stored}\n" for each, stored in before.items())
    entered = with_entry(text.removesuffix("\n"), Entry(name, "$7$1$new$new"))
    assert entries(entered) == {**before, name: "$7$1$new$new"}
    assert entered.startswith("# written by hand\n")
    assert entries(without(entered, name)) == {each: stored for each, stored in before.items() if each != name}


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("attic", "site.toml has no probe attic (it has: north-air). Add it there first, as a [[probe]]"),
        ("north/air", "is no id of a probe"),
        ("+", "is no id of a probe"),
        ("north-air:x", "where + # / and : mean something else"),
        ("", "is no id of a probe"),
        ("a\nb", "This is no id of a probe"),
        ("clutchwarden", "is the daemon's own name at the broker"),
    ],
)
def test_who_is_not_enrolled(tmp_path: Path, name: str, said: str) -> None:
    with pytest.raises(EnrolError) as found:
        desk(tmp_path).enrol(name, again=False)
    assert said in str(found.value)
    assert list((tmp_path / "broker").iterdir()) == []


def test_without_a_folder_of_the_broker_and_without_names_there_is_nothing_to_enrol_at(tmp_path: Path) -> None:
    with pytest.raises(EnrolError, match=r"There is no folder .*/broker\. Put the broker's files there first"):
        desk(tmp_path, broker=False).enrol("north-air", again=False)
    (tmp_path / "site" / "settings.toml").write_text("[broker]\nembedded = true\n")
    with pytest.raises(EnrolError, match="The inner broker lets in everybody on this machine, and nobody else"):
        enrolment(tmp_path / "site").enrol("north-air", again=False)


@pytest.mark.parametrize("port", ['"eggs"', "1884.5", "0", "65536"])
def test_a_port_that_is_none_is_told_before_a_device_hears_of_it(tmp_path: Path, port: str) -> None:
    assert desk(tmp_path).door("eggs.example", None).port == 1883
    settings_file = tmp_path / "site" / "settings.toml"
    for right in ("1884", '"1884"'):
        settings_file.write_text(f"[broker]\nport = {right}\n", encoding="utf-8")
        assert enrolment(tmp_path / "site", tmp_path / "broker").door("eggs.example", None).port == 1884
        assert load_settings(tmp_path / "site").broker.port == 1884, "the service takes it too"
    settings_file.write_text(f"[broker]\nport = {port}\n", encoding="utf-8")
    with pytest.raises(ConfigError, match=r"settings\.toml: broker\.port\n  this is no port\n  Write a whole number"):
        enrolment(tmp_path / "site", tmp_path / "broker")


@pytest.mark.parametrize(
    "words", [["--site", "SITE", "enroll"], ["--site=SITE", "enroll"], ["enroll", "--site", "SITE"]]
)
def test_the_site_may_be_said_before_the_command(tmp_path: Path, words: list[str]) -> None:
    desk(tmp_path)
    stated = [word.replace("SITE", str(tmp_path / "site")) for word in words]
    found = CliRunner().invoke(app, ["probe", *stated, "--list", "--broker-folder", str(tmp_path / "broker")])
    assert found.exit_code == 0, found.output
    assert "north-air" in found.output


def test_once_is_enough_and_the_file_stays_whose_it_was(tmp_path: Path) -> None:
    found = desk(tmp_path)
    file = tmp_path / "broker" / "passwords"
    first = found.enrol("north-air", again=False)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert first.password not in file.read_text()
    assert first.password not in repr(first)
    file.chmod(0o640)
    before = file.read_text()
    with pytest.raises(EnrolError, match="is enrolled already; nothing was changed"):
        found.enrol("north-air", again=False)
    assert file.read_text() == before
    second = found.enrol("north-air", again=True)
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert [path.name for path in file.parent.iterdir()] == ["passwords"]
    stored = entries(file.read_text())["north-air"]
    assert (is_right(stored, first.password), is_right(stored, second.password)) == (False, True)
    assert found.tell_broker().startswith("Mosquitto does not know it yet")
    found.dismiss("north-air")
    with pytest.raises(EnrolError, match=r"\"north-air\" is not enrolled\. Enrolled: nobody\."):
        found.dismiss("north-air")


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that others than the user of the tests may enter, which those of the tests are not."""
    with tempfile.TemporaryDirectory() as made:
        Path(made).chmod(0o711)
        yield Path(made)


@pytest.mark.skipif(os.geteuid() != 0, reason="it is about what only root could do")
@pytest.mark.parametrize("inner", [False, True])
def test_a_link_in_the_folder_of_the_service_leads_root_nowhere(open_folder: Path, inner: bool) -> None:
    found = desk(open_folder)
    site, elsewhere = open_folder / "site", open_folder / "elsewhere"
    elsewhere.mkdir(mode=0o755)
    os.chown(site, SOMEBODY, SOMEBODY)
    (site / "secrets").symlink_to(elsewhere)
    if inner:
        (site / "settings.toml").write_text(INNER, encoding="utf-8")
        found = enrolment(site)
    with pytest.raises(EnrolError, match="cannot be written: permission denied"):
        _ = found.enrol("north-air", again=False) if inner else found.enrol_daemon(None, again=False)
    assert (elsewhere.stat().st_uid, list(elsewhere.iterdir())) == (0, [])
    (site / "secrets").unlink()
    _ = found.enrol("north-air", again=False) if inner else found.enrol_daemon(None, again=True)
    made = site / "secrets" / ("probe-passwords" if inner else "broker-password")
    assert {(each.stat().st_uid, each.stat().st_gid) for each in (made, made.parent)} == {(SOMEBODY, SOMEBODY)}
    assert os.geteuid() == 0


def test_what_a_device_is_told_is_what_agent_and_decoder_understand(tmp_path: Path) -> None:
    """The lines are put into the files that they are for, and the message into the decoder."""
    (tmp_path / "site").mkdir()
    found = desk(tmp_path)
    (tmp_path / "site" / "site.toml").write_text(SITE + SOURCE)
    found = enrolment(tmp_path / "site", tmp_path / "broker", tmp_path / "no.pid")
    (tmp_path / "broker" / "names").write_text("eggs.example\n192.168.1.20\n")
    made = found.enrol("north-air", again=False)
    plain = whole(found.probe("north-air"), found.door(None, None), made)
    assert "Caution: this broker speaks no TLS." in plain
    assert "tls = true" not in plain
    (tmp_path / "broker" / "ca.pem").write_text("-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n")
    told = whole(found.probe("north-air"), found.door(None, None), made)
    assert told.count(made.password) == 1
    assert "broker     eggs.example, port 8883, TLS 1.2 or newer, checked by ca.pem; MQTT 3.1.1 or 5" in told
    assert "topic write hatchery/porch/state" in told
    lines = tomllib.loads(told[told.index("    [broker]") : told.index("For a microcontroller")])
    assert lines["broker"] == {"host": "eggs.example", "port": 8883, "tls": True, "ca_file": "ca.pem"}
    assert lines["probe"] == [{"id": "north-air", "password_file": "north-air-password"}]
    payload = told[told.index("payload    ") + len("payload    ") :].splitlines()[0]
    decoded = Decoder(found.site).decode("clutchwarden/north-air/measure", payload.encode(), False, 1_780_000_000_000)
    assert isinstance(decoded, Accepted)
    assert {reading.channel for reading in decoded.readings} == {"north-air/air", "north-air/rh"}
    assert found.door("10.0.0.9", 8884) == found.door(None, None).__class__(
        "10.0.0.9", 8884, (tmp_path / "broker" / "ca.pem").read_text()
    )


def test_a_probe_of_the_agent_signs_in_by_its_own_name(tmp_path: Path) -> None:
    (tmp_path / "word").write_text("of its own\n")
    (tmp_path / "word").chmod(0o600)
    channel = '[[probe.channel]]\nname = "t"\nkind = "1-wire"\ndevice = "28-0316a2795bff"\n'
    head = '[broker]\nhost = "eggs.example"\nprotocol = "3.1.1"\nusername = "shared"\n'
    file = tmp_path / "probe.toml"
    file.write_text(f'{head}[[probe]]\nid = "a"\npassword_file = "word"\n{channel}[[probe]]\nid = "b"\n{channel}')
    plan = load_plan(file)
    assert [plan.signs_in(probe) for probe in plan.probes] == [("a", "of its own"), ("shared", None)]
    assert "of its own" not in repr(plan)
    readable, unheard = plan.cautions()
    assert readable.startswith("The password goes to eggs.example as it is")
    assert unheard.startswith("By MQTT 3.1.1 a broker takes a reading that this user name may not send")
