"""The wheel holds what the source tree holds, and what is installed starts from another folder."""

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from daemon.environment import foreign_owners

ROOT = Path(__file__).parent.parent
ROOMS = ("config", "sensors", "daemon", "dashboards")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built of a copy: a build leaves files in its tree, and takes up what an earlier one left there."""
    folder, tree = tmp_path_factory.mktemp("wheel"), tmp_path_factory.mktemp("tree")
    for name in ROOMS:
        shutil.copytree(ROOT / name, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, tree / name)
    options = ["--quiet", "--no-deps", "--no-build-isolation", "--wheel-dir", str(folder)]
    command = [sys.executable, "-m", "pip", "wheel", *options, str(tree)]
    subprocess.run(command, check=True, capture_output=True, timeout=110)
    [built] = folder.glob("*.whl")
    return built


def test_the_wheel_holds_every_file_of_the_four_rooms(wheel: Path) -> None:
    packed = {name for name in zipfile.ZipFile(wheel).namelist() if name.split("/")[0] in ROOMS}
    tracked = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", *ROOMS],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    of_the_readme = {name for name in tracked.stdout.split() if name.startswith("dashboards/pictures/")}
    assert packed == set(tracked.stdout.split()) - of_the_readme


def test_what_is_in_the_wheel_starts_without_the_source_tree(wheel: Path, tmp_path: Path) -> None:
    zipfile.ZipFile(wheel).extractall(tmp_path / "installed")
    program = "from daemon.cli import main; main()"
    environment = {"PYTHONPATH": str(tmp_path / "installed"), "PATH": "/usr/bin:/bin", "HOME": str(tmp_path)}
    for arguments in (["new", "eggs"], ["check", "eggs"]):
        done = subprocess.run(
            [sys.executable, "-c", program, *arguments],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )
        assert done.returncode == 0, done.stderr
    assert "No mistakes." in done.stdout


def test_another_owner_of_one_of_our_names_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    assert foreign_owners({"daemon": ["clutchwarden", "clutchwarden"], "json": ["other"]}) == []
    [sentence] = foreign_owners({"daemon": ["clutchwarden", "some-daemon"]})
    assert "some-daemon uses the name 'daemon' too" in sentence
    assert "virtual environment of its own" in sentence
