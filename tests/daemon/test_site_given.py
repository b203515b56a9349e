"""The site folder is said in the same ways to every command: `--site` behind it or behind its group, or as its word."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.commands.late import LATE, loaded
from daemon.commands.site_given import SiteCommand, SiteGroup
from tests.support.household import write_site

RUNNER = CliRunner()
OF_A_BOARD = ("probe",)
"""What is no command there goes to the agent of a small board, so its options do."""


def call(*words: str | Path) -> Result:
    return RUNNER.invoke(cli.app, [str(each) for each in words])


def leaves(name: str, command: Any, groups: tuple[Any, ...] = ()) -> Iterator[tuple[str, Any, tuple[Any, ...]]]:
    if not hasattr(command, "commands"):
        yield name, command, groups
        return
    for each, below in command.commands.items():
        yield from leaves(f"{name} {each}", below, (*groups, command))


ALL = [leaf for name in LATE for leaf in leaves(name, loaded(name))]
OF_A_SITE = [leaf for leaf in ALL if any("--site" in each.opts for each in leaf[1].params)]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_site(tmp_path_factory.mktemp("given") / "site", 1883, "http://127.0.0.1:9/phone")


def test_every_command_of_a_site_takes_it_by_its_option() -> None:
    assert len(OF_A_SITE) > 50
    without = {name.split()[0] for name, *_ in ALL} - {name.split()[0] for name, *_ in OF_A_SITE}
    # These have no site: the way to a new one, an invented one, a second machine, and sums of what is given.
    assert without == {"new", "demo", "watch", "dew-point", "heat"}


def test_a_command_and_each_group_around_it_know_of_the_folder() -> None:
    for name, command, groups in OF_A_SITE:
        assert isinstance(command, SiteCommand), name
        if not name.startswith(OF_A_BOARD):
            assert all(isinstance(each, SiteGroup) for each in groups), name
            assert all(any("--site" in each.opts for each in group.params) for group in groups), name


@pytest.mark.parametrize(
    "words",
    [
        ("check", "--site", "SITE"),
        ("check", "SITE"),
        ("verify", "--site", "SITE", "--json"),
        ("verify", "SITE", "--json"),
        ("backup", "--site", "SITE", "list"),
        ("backup", "list", "--site", "SITE"),
        ("backup", "list", "SITE"),
        ("backup", "SITE"),
        ("review", "--site", "SITE", "--list"),
        ("review", "--list", "SITE"),
        ("alarms", "--site", "SITE", "list"),
        ("alarms", "list", "SITE"),
        ("clutch", "--site", "SITE", "list"),
        ("clutch", "--site", "nowhere", "list", "--site", "SITE"),
        ("access", "--site", "SITE", "key", "list"),
        ("access", "key", "--site", "SITE", "list"),
        ("mirror", "--site", "SITE", "status"),
        ("import", "--site", "SITE", "nowhere.csv", "--time-column", "time"),
        ("import", "SITE", "nowhere.csv", "--time-column", "time"),
    ],
    ids=" ".join,
)
def test_the_folder_is_found_wherever_it_is_said(words: tuple[str, ...], site: Path, tmp_path: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path)
        right = call(*(str(site) if each == "SITE" else each for each in words))
        wrong = call(*(str(tmp_path / "other") if each == "SITE" else each for each in words))
    assert "site.toml" not in right.output + str(right.exception)
    assert "Got unexpected" not in right.output
    if words != ("backup", "SITE"):
        assert str(tmp_path / "other") in wrong.output + str(wrong.exception)


@pytest.mark.parametrize(
    "words",
    [
        ("check", "one", "two"),
        ("check", "--site", "one", "two"),
        ("alarms", "shelve", "--site", "one"),
        ("run", "--no"),
    ],
    ids=" ".join,
)
def test_a_word_too_many_and_one_too_few_are_said(words: tuple[str, ...]) -> None:
    found = call(*words)
    assert found.exit_code == 2
    assert "Usage: " in found.output


def test_the_folder_of_the_environment_gives_way_to_one_that_is_typed(site: Path, tmp_path: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CLUTCHWARDEN_SITE", str(tmp_path / "other"))
        assert call("alarms", "--site", site, "list").exit_code == 0
        assert call("check", site).exit_code == 0
        assert str(tmp_path / "other") in str(call("alarms", "list").exception)
