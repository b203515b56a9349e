"""What the README says is what the program does."""

import json
import re
import shlex
import tomllib
from pathlib import Path

import pytest
from pydantic import ValidationError
from typer.main import get_command
from typer.testing import CliRunner

from config.settings import Settings
from config.species import SpeciesProfile
from config.words import AlarmKind
from daemon.alarms.delivery import OutgoingMessage
from daemon.cli import app
from sensors.reading import Outcome

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
OF_PARTS = ("deploy/mosquitto/README.md", "deploy/microcontroller.md", "dashboards/grafana/README.md")
DOCUMENTS = ("README.md", "DEVELOPERS.md", "CHANGELOG.md", *OF_PARTS)


def test_every_command_is_in_the_readme() -> None:
    for name in get_command(app).commands:  # type: ignore[attr-defined]
        assert f"clutchwarden {name}" in README, name


def commands_shown(text: str) -> list[list[str]]:
    """What a document says to type: in its blocks, and within its sentences."""
    typed = [
        *re.findall(r"^ *```sh\n(.*?)```", text, re.DOTALL | re.MULTILINE),
        *re.findall(r"^ {4}.*", text, re.MULTILINE),
    ]
    in_blocks = "\n".join(typed).replace("\\\n", " ")
    lines = re.findall(r"(?:^|&&) *(?:sudo )?clutchwarden (.*?)(?:&&|$)", in_blocks, re.MULTILINE)
    within = re.findall(r"`clutchwarden ([^`]+)`", re.sub(r"```.*?```", "", text, flags=re.DOTALL).replace("\n", " "))
    # In capitals: any command.
    return [shlex.split(each, comments=True) for each in [*lines, *within] if not each.startswith("COMMAND")]


def slip(words: list[str]) -> str:
    """What the program itself has against these words; empty where it would do something. It is asked for its help."""
    answer = CliRunner().invoke(app, [*words, "--help"])
    return answer.stderr if answer.exit_code else ""


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_command_and_option_that_a_document_shows_exists(name: str) -> None:
    shown = commands_shown((ROOT / name).read_text(encoding="utf-8"))
    assert len(shown) >= {"README.md": 80, "deploy/mosquitto/README.md": 2}.get(name, 0)
    found = {shlex.join(words): slip(words) for words in shown}
    assert {words: said for words, said in found.items() if said} == {}


@pytest.mark.parametrize("typed", ["watsh FILE", "clutch ad Juniper", "run SITE --fast", "probe enroll x --pasword"])
def test_a_command_that_is_not_there_is_found(typed: str) -> None:
    assert "No such" in slip(shlex.split(typed))


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


def test_a_profile_needs_the_keys_that_the_readme_names_and_no_others() -> None:
    assert "Only `id`, `scientific_name`, `common_name`, `group` and `[temperature]` with `low`, `high` and" in README
    block = next(one for one in re.findall(r"```toml\n(.*?)```", README, re.DOTALL) if "my-ratsnake" in one)
    whole = tomllib.loads(block)
    least = {key: whole[key] for key in ("id", "scientific_name", "common_name", "group", "temperature")}
    assert set(least["temperature"]) == {"low", "high", "lethal_high"}
    SpeciesProfile.model_validate(least)
    for key in least:
        with pytest.raises(ValidationError):
            SpeciesProfile.model_validate({name: value for name, value in least.items() if name != key})
    for key in least["temperature"]:
        fewer = {name: value for name, value in least["temperature"].items() if name != key}
        with pytest.raises(ValidationError):
            SpeciesProfile.model_validate({**least, "temperature": fewer})


def test_the_example_of_hatch_in_the_readme_gives_a_date_that_lies_ahead() -> None:
    example = next(line for line in README.splitlines() if line.startswith("| `clutchwarden hatch ")).split("`")[1]
    found = CliRunner().invoke(app, [*shlex.split(example)[1:], "--json"])
    assert found.exit_code == 0, found.stderr
    assert json.loads(found.stdout)["standing"] == "ahead"
