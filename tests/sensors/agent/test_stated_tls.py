"""What the agent's file says of TLS, and the mistakes in it."""

from pathlib import Path

import pytest

from config.errors import ConfigError
from sensors.agent.__main__ import main
from sensors.agent.plan import AgentPlan
from sensors.agent.stated import load_plan, look_at
from sensors.secured import Tls
from tests.support.certificates import make_certificates

REST = '[[probe]]\nid = "a"\n[[probe.channel]]\nname = "t"\nkind = "1-wire"\ndevice = "28-0316a2795bff"\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_certificates(tmp_path_factory.mktemp("board") / "certificates")


def plan(folder: Path, broker: str) -> AgentPlan:
    file = folder / "probe.toml"
    file.write_text(f'[broker]\nhost = "eggs.example"\n{broker}{REST}')
    return load_plan(file)


def test_with_tls_the_port_is_that_of_tls_and_paths_begin_at_the_file(folder: Path) -> None:
    found = plan(folder, 'tls = true\nca_file = "ca.pem"\n').broker
    assert (found.port, found.tls) == (8883, Tls(folder / "ca.pem"))
    both = 'tls = true\nport = 8884\ncertificate_file = "server.pem"\nkey_file = "server.key"\n'
    found = plan(folder, both).broker
    assert (found.port, found.tls) == (8884, Tls(None, folder / "server.pem", folder / "server.key"))
    assert plan(folder, "").broker.tls is None


@pytest.mark.parametrize(
    ("broker", "said"),
    [
        ('ca_file = "ca.pem"\n', "certificates are given, but tls is false"),
        ('tls = true\nkey_file = "server.key"\n', "certificate_file and key_file belong together"),
        ('tls = true\nca_file = "none.pem"\n', "a certificate cannot be read (no such file or directory)"),
        ('tls = true\nca_file = "server.key"\n', "a certificate cannot be read (not what such a file holds)"),
        ('tls = true\ncertificate_file = "server.pem"\nkey_file = "ca.key"\n', "a key of our own has to belong to its"),
        ('tls = true\ncertificate_file = "server.pem"\nkey_file = "locked.key"\n', "a certificate cannot be read"),
        ('tls = "yes"\n', "Write true or false, without quotes."),
    ],
)
def test_mistakes_are_told(folder: Path, broker: str, said: str) -> None:
    with pytest.raises(ConfigError) as found:
        plan(folder, broker)
    assert said in str(found.value)
    assert len(found.value.mistakes) == 1


def test_a_password_that_everybody_could_read_is_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "word").write_text("hush-hush\n")
    (folder / "word").chmod(0o600)
    named = 'username = "north"\npassword_file = "word"\n'
    cases = {named: True, f'{named}tls = true\nca_file = "ca.pem"\n': False, "": False}
    for broker, is_told in cases.items():
        plan(folder, broker)
        assert main(["--check", str(folder / "probe.toml")]) == 0
        said = capsys.readouterr().out
        assert ("Caution: The password goes to eggs.example as it is, for everybody" in said) is is_told, broker
        assert "hush-hush" not in said


def test_an_authority_that_the_service_alone_sees_is_tls_all_the_same(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CREDENTIALS_DIRECTORY", raising=False)
    (folder / "word").write_text("hush-hush\n")
    (folder / "word").chmod(0o600)
    secured = 'username = "north"\npassword_file = "word"\ntls = true\nca_file = "credential:ca"\n'
    with pytest.raises(ConfigError, match="the credential ca can be seen by the service alone"):
        plan(folder, secured)
    assert main(["--check", str(folder / "probe.toml")]) == 0
    said = capsys.readouterr().out
    assert "the credential ca can be seen by the service alone" in said
    assert "Caution" not in said
    assert look_at(folder / "probe.toml")[0].broker.port == 8883
