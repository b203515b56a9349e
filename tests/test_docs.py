"""What the README says is what the program does."""

import re
import tomllib
from pathlib import Path

import pytest
from typer.main import get_command

from config.settings import Settings
from config.words import AlarmKind
from daemon.alarms.delivery import OutgoingMessage
from daemon.cli import app
from sensors.reading import Outcome

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DOCUMENTS = ("README.md", "DEVELOPERS.md", "CHANGELOG.md")


def test_every_command_is_in_the_readme() -> None:
    for name in get_command(app).commands:  # type: ignore[attr-defined]
        assert f"clutchwarden {name}" in README, name


def test_every_command_that_the_readme_shows_exists() -> None:
    known = set(get_command(app).commands)  # type: ignore[attr-defined]
    shown = set(re.findall(r"^ *clutchwarden ([a-z-]+)", README, re.MULTILINE))
    assert shown
    assert shown <= known


def test_every_setting_is_in_the_readme() -> None:
    for section, field in Settings.model_fields.items():
        row = next(line for line in README.splitlines() if line.startswith(f"| `[{section}]`"))
        assert set(re.findall(r"`(\w+)`", row)) == set(type(field.default).model_fields), section


@pytest.mark.parametrize("word", [*Outcome, *AlarmKind])
def test_every_outcome_and_alarm_is_in_the_readme(word: str) -> None:
    assert f"`{word}`" in README


def test_every_field_of_a_webhook_message_is_in_the_readme() -> None:
    fields = set(OutgoingMessage.__dataclass_fields__) - {"format"}
    assert {field for field in fields if f"`{field}`" not in README} == set()


def test_every_toml_block_of_the_readme_is_toml() -> None:
    blocks = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    assert len(blocks) >= 3
    for block in blocks:
        tomllib.loads(re.sub(r"^ {3}", "", block, flags=re.MULTILINE))


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_file_that_a_document_names_exists(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    for path in re.findall(r"`((?:config|sensors|daemon|dashboards|deploy|tests)/[\w./-]*)`", text):
        assert (ROOT / path).exists(), path
