"""Every folder in `bad/` holds one kind of mistake and, written by hand beside it, what a keeper is to read."""

from functools import cache
from pathlib import Path

import pytest

from config.check import Checked, check_site
from config.errors import ConfigError
from config.settings import load_settings
from config.site import load_site
from config.species import load_profiles

BAD = Path(__file__).parent / "bad"
FOLDERS = sorted(path.name for path in BAD.iterdir())
SECRET = "TOKEN-4711"


@cache
def checked(name: str) -> Checked:
    return check_site(BAD / name)


def report(name: str) -> str:
    blocks = [str(mistake) for mistake in checked(name).mistakes]
    return "\n\n".join(blocks).replace(str(BAD / name), "<folder>") + "\n"


def test_there_is_a_folder_for_each_kind_of_mistake() -> None:
    assert len(FOLDERS) >= 35


@pytest.mark.parametrize("name", FOLDERS)
def test_each_mistake_is_told_in_the_words_that_were_written_beside_it(name: str) -> None:
    expected = (BAD / name / "expected.txt").read_text(encoding="utf-8")
    assert report(name) == expected


@pytest.mark.parametrize("name", FOLDERS)
def test_a_site_is_usable_exactly_where_there_are_only_warnings(name: str) -> None:
    found = checked(name)
    only_warnings = "(warning)" in (BAD / name / "expected.txt").read_text(encoding="utf-8")
    assert found.usable is only_warnings
    if only_warnings:
        assert found.site is not None
        assert found.settings is not None


@pytest.mark.parametrize("name", FOLDERS)
def test_loading_raises_the_very_mistakes_that_checking_shows(name: str) -> None:
    raised: list[str] = []
    for load in (load_site, load_settings, lambda folder: load_profiles(folder / "profiles")):
        try:
            load(BAD / name)
        except ConfigError as error:
            raised.extend(str(mistake) for mistake in error.mistakes)
    shown = [str(one) for one in checked(name).mistakes if one.severity == "mistake"]
    assert raised == shown


@pytest.mark.parametrize("name", FOLDERS)
def test_no_secret_stands_in_any_message(name: str) -> None:
    assert SECRET not in report(name)


def test_the_secret_of_these_tests_really_stands_in_the_files() -> None:
    texts = [path.read_text(encoding="utf-8") for path in BAD.glob("*/*.toml")]
    assert sum(SECRET in text for text in texts) >= 20


def test_a_folder_that_does_not_exist_is_one_mistake(tmp_path: Path) -> None:
    found = check_site(tmp_path / "nowhere")
    assert [one.reason for one in found.mistakes] == ["there is no such folder"]
    assert found.site is None


def test_a_file_in_the_place_of_the_folder_is_one_mistake(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text("", encoding="utf-8")
    assert [one.reason for one in check_site(tmp_path / "site.toml").mistakes] == [
        "this is a file, and a site is a folder"
    ]


def test_a_site_file_that_is_not_utf8_is_one_mistake(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_bytes('[site]\nname = "Brutkästen"\n'.encode("latin-1"))
    assert [one.reason for one in check_site(tmp_path).mistakes] == ["the file is not UTF-8 text (byte 21)"]


def test_a_folder_in_the_place_of_the_site_file_is_one_mistake(tmp_path: Path) -> None:
    (tmp_path / "site.toml").mkdir()
    assert [one.reason for one in check_site(tmp_path).mistakes] == ["the file cannot be read: Is a directory"]
