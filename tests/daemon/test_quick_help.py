"""The whole's `--help` says what each command says of itself, and loads nothing that only some of them work with."""

import importlib
import subprocess
import sys

import pytest
import typer
from typer.main import get_command
from typer.testing import CliRunner

from daemon.cli import _TOLD_APART, app
from daemon.commands.late import LATE

HEAVY = ("numpy", "fastapi", "plotly", "apprise", "amqtt", "pydantic", "requests", "argon2", "PIL", "uvicorn")
"""What takes longer to load than a page of help takes to read."""


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_no_heavy_module_is_loaded_for(option: str) -> None:
    asked = (
        f"import sys; sys.argv = ['clutchwarden', {option!r}]\n"
        "from daemon.cli import main\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert not end.code\n"
        f"print('loaded:', *[name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.splitlines()[-1] == "loaded:"


@pytest.mark.parametrize("name", LATE)
def test_the_line_of_a_command_is_its_own(name: str) -> None:
    late = LATE[name]
    found = getattr(importlib.import_module(f"daemon.commands.{late.module}"), late.attribute)
    own = found.info.help if isinstance(found, typer.Typer) else found.__doc__
    assert own is not None
    assert own.startswith(late.told)
    assert late.told.endswith(".")


@pytest.mark.parametrize("name", LATE)
def test_each_command_is_reached_with_its_options(name: str) -> None:
    found = CliRunner().invoke(app, [name, "--help"])
    assert found.exit_code == 0, found.output
    assert f" {name} " in found.output


def test_every_command_is_listed_once() -> None:
    assert list(get_command(app).commands) == list(LATE)  # type: ignore[attr-defined]


@pytest.mark.parametrize(("module", "name"), _TOLD_APART)
def test_errors_that_are_told_in_a_sentence_are_where_they_are_said_to_be(module: str, name: str) -> None:
    assert issubclass(getattr(importlib.import_module(module), name), Exception)
