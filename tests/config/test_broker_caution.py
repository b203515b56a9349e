"""A password that goes through a network for everybody to read is a warning, and nothing else is."""

from pathlib import Path

import pytest

from config.settings import read_settings

NAMED = 'username = "warden"\npassword_file = "word"\n'
OURS = NAMED.replace("warden", "clutchwarden")


@pytest.mark.parametrize(
    ("broker", "said"),
    [
        (f'host = "10.0.0.5"\n{NAMED}', "the password goes to 10.0.0.5 as it is"),
        (f'embedded = true\nhost = "0.0.0.0"\n{NAMED}', "the inner broker speaks no TLS"),
        (f'host = "10.0.0.5"\ntls = true\n{NAMED}', None),
        (
            f'host = "10.0.0.5"\nport = 8883\ntls = true\n{OURS}',
            "at the broker of deploy/mosquitto",
        ),
        (f'host = "10.0.0.5"\nport = 8884\ntls = true\n{OURS}', None),
        (f'host = "127.0.0.1"\n{NAMED}', None),
        ('host = "10.0.0.5"\n', None),
    ],
)
def test_the_caution_about_a_password_in_the_open(tmp_path: Path, broker: str, said: str | None) -> None:
    (tmp_path / "word").write_text("hush-hush\n")
    (tmp_path / "settings.toml").write_text(f"[broker]\n{broker}")
    settings, mistakes = read_settings(tmp_path)
    assert settings is not None
    assert [mistake.severity for mistake in mistakes] == ["warning"] * (said is not None)
    assert said is None or mistakes[0].reason.startswith(said)
    assert "hush-hush" not in "".join(map(str, mistakes))
