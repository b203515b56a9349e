"""`[web]`: what others on the net could read along is refused, unless somebody says that this is all right."""

from pathlib import Path

import pytest

from config.errors import Mistake
from config.settings import load_settings, read_settings
from config.web import WebSettings
from tests.support.certificates import make_certificates

TLS = 'certificate_file = "certificates/server.pem"\nkey_file = "certificates/server.key"\n'
PROXY = 'behind_proxy = true\npublic_url = "https://eggs.example.org"\n'


def mistakes(folder: Path, text: str) -> list[Mistake]:
    (folder / "settings.toml").write_text(f"[web]\n{text}", encoding="utf-8")
    settings, found = read_settings(folder)
    assert (settings is None) == any(each.severity == "mistake" for each in found)
    return list(found)


def web(folder: Path, text: str) -> WebSettings:
    assert mistakes(folder, text) == []
    return load_settings(folder).web


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.5", "eggs.local"])
def test_a_host_that_others_reach_is_refused_and_the_text_says_the_three_ways(tmp_path: Path, host: str) -> None:
    [mistake] = mistakes(tmp_path, f'host = "{host}"\n')
    assert (mistake.file, mistake.key, mistake.severity) == ("settings.toml", "web.host", "mistake")
    assert "there is no TLS" in mistake.reason
    for word in ("certificate_file", "behind_proxy = true", "plain_http_accepted = true"):
        assert word in mistake.hint


@pytest.mark.services
def test_with_a_certificate_it_is_served_by_tls(tmp_path: Path) -> None:
    make_certificates(tmp_path / "certificates")
    settings = web(tmp_path, f'host = "0.0.0.0"\n{TLS}public_url = "https://eggs.example.org"\n')
    assert settings.served_by_tls
    assert settings.certificate == (tmp_path / "certificates/server.pem", tmp_path / "certificates/server.key")


def test_behind_a_proxy_it_is_not_and_the_proxy_is_on_this_machine_where_nothing_is_said(tmp_path: Path) -> None:
    settings = web(tmp_path, f'host = "0.0.0.0"\n{PROXY}')
    assert not settings.served_by_tls
    assert settings.trusted_proxies == ("127.0.0.1", "::1")


def test_somebody_may_say_that_plain_http_is_all_right(tmp_path: Path) -> None:
    settings = web(tmp_path, 'host = "0.0.0.0"\nplain_http_accepted = true\npublic_url = "http://192.168.1.5:8330/"\n')
    assert settings.public_url == "http://192.168.1.5:8330"


def test_where_the_pages_are_switched_off_the_host_does_not_matter(tmp_path: Path) -> None:
    assert not web(tmp_path, 'enabled = false\nhost = "0.0.0.0"\n').enabled


def test_plain_links_are_refused_without_that_word(tmp_path: Path) -> None:
    [mistake] = mistakes(tmp_path, 'public_url = "http://192.168.1.5:8330"\n')
    assert (mistake.key, mistake.severity) == ("web.public_url", "mistake")
    assert "plain_http_accepted" in mistake.hint


def test_links_by_https_that_nothing_answers_are_a_warning(tmp_path: Path) -> None:
    [mistake] = mistakes(tmp_path, 'public_url = "https://eggs.example.org"\n')
    assert (mistake.key, mistake.severity) == ("web.public_url", "warning")
    assert "behind_proxy = true" in mistake.hint


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ('certificate_file = "a.pem"\n', "certificate_file and key_file belong together"),
        ('key_file = "a.key"\n', "certificate_file and key_file belong together"),
        ("behind_proxy = true\n", "behind_proxy is given, but public_url does not begin with https://"),
        (
            'behind_proxy = true\nplain_http_accepted = true\npublic_url = "http://192.168.1.5"\n',
            "behind_proxy is given, but public_url does not begin with https://",
        ),
        ('trusted_proxies = ["10.0.0.1"]\n', "trusted_proxies is given, but behind_proxy is false"),
    ],
)
def test_what_does_not_fit_together_is_a_mistake(tmp_path: Path, text: str, reason: str) -> None:
    [mistake] = mistakes(tmp_path, text)
    assert (mistake.key, mistake.reason) == ("web", reason)


@pytest.mark.parametrize("stated", ['["*"]', '["proxy.local"]', '["10.0.0.0/33"]', '[""]', '"10.0.0.1, *"'])
def test_a_proxy_is_named_by_its_address(tmp_path: Path, stated: str) -> None:
    [mistake] = mistakes(tmp_path, f"{PROXY}trusted_proxies = {stated}\n")
    assert mistake.key.startswith("web.trusted_proxies")


def test_proxies_may_be_a_network_and_come_from_the_environment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CLUTCHWARDEN_WEB__TRUSTED_PROXIES", "10.1.2.3/8, ::1")
    assert web(tmp_path, PROXY).trusted_proxies == ("10.0.0.0/8", "::1")


def test_files_that_are_not_there_are_a_mistake_each(tmp_path: Path) -> None:
    found = mistakes(tmp_path, TLS)
    assert [each.key for each in found] == ["web.certificate_file", "web.key_file"]
    assert all("cannot be read: No such file" in each.reason for each in found)


@pytest.mark.services
@pytest.mark.parametrize("key", ["ca.key", "locked.key", "server.pem"])
def test_a_key_of_another_certificate_with_a_passphrase_or_no_key_is_a_mistake(tmp_path: Path, key: str) -> None:
    make_certificates(tmp_path / "certificates")
    [mistake] = mistakes(tmp_path, TLS.replace("server.key", key))
    assert mistake.key == "web.certificate_file"
    assert "passphrase" in mistake.hint
