"""`clutchwarden species list` and `show`: every number with its source, cautions first."""

import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from config.errors import ConfigError
from config.species import BUILT_IN, load_profiles
from daemon.commands import species

RUNNER = CliRunner(env={"CLUTCHWARDEN_SITE": None, "COLUMNS": "80"})
PROFILES = load_profiles()


def call(*arguments: str | Path) -> Result:
    return RUNNER.invoke(species.app, [str(each) for each in arguments])


def listed(*arguments: str | Path) -> dict[str, dict[str, Any]]:
    return {one["id"]: one for one in json.loads(call("list", "--json", *arguments).stdout)}


def own_profile(site: Path, text: str) -> None:
    (site / "profiles").mkdir(parents=True)
    (site / "profiles" / "python-regius.toml").write_text(text, encoding="utf-8")


def sources(table: object) -> Iterator[str]:
    """Every source in a profile, at any depth."""
    if isinstance(table, dict):
        for key, value in table.items():
            if key.endswith("source"):
                yield value
            yield from sources(value)
    elif isinstance(table, (list, tuple)):
        for value in table:
            yield from sources(value)


def numbers(table: object) -> Iterator[float]:
    """Every number in a profile, at any depth."""
    if isinstance(table, dict):
        for value in table.values():
            yield from numbers(value)
    elif isinstance(table, (list, tuple)):
        for value in table:
            yield from numbers(value)
    elif isinstance(table, float):
        yield table


def test_every_profile_is_listed_by_id_and_by_the_name_that_keepers_use() -> None:
    shown = call("list").stdout
    words = " ".join(shown.split())
    for profile in PROFILES.values():
        assert f"\n{profile.id} " in shown
        assert profile.common_name in words
    assert set(listed()) == set(PROFILES)


def test_a_list_says_which_lines_are_pooled_or_of_two_points_and_who_pauses() -> None:
    lines = [" ".join(line.split()) for line in call("list").stdout.splitlines()]
    assert "coluber-constrictor 24-30 40-63 22-28 two-point" in lines
    assert next(line for line in lines if line.startswith("trachemys-scripta")).endswith("pooled")
    assert lines[lines.index("chamaeleo-calyptratus 24-29 227-253 25-28 none") + 1] == "pauses; veiled chameleon"
    assert "caution; Chinese cobra" in lines


def test_days_of_a_species_that_pauses_are_those_observed_and_not_those_of_its_line() -> None:
    [line] = [line for line in call("list").stdout.splitlines() if line.startswith("malacochersus-tornieri")]
    assert line.split()[2:] == ["81-113", "27-32", "none"]
    shown = call("show", "malacochersus-tornieri").stdout
    assert "heat tells no date" in shown
    assert "by this line" not in shown


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_a_profile_is_shown_with_every_number_and_every_source(name: str) -> None:
    shown = call("show", name).stdout
    profile = PROFILES[name].model_dump()
    assert list(sources(profile))
    assert [source for source in sources(profile) if source not in shown] == []
    assert [number for number in numbers(profile) if f"{number:g}" not in shown.replace(",", "")] == []
    assert PROFILES[name].scientific_name in shown
    assert (PROFILES[name].population or "") in shown


def test_an_own_profile_is_shown_with_its_durations_stages_exposure_and_sex(tmp_path: Path) -> None:
    """The profile that the README shows."""
    readme = (Path(__file__).parent.parent.parent / "README.md").read_text(encoding="utf-8")
    [block] = [one for one in re.findall(r"```toml\n(.*?)```", readme, re.DOTALL) if "[[duration]]" in one]
    (tmp_path / "profiles").mkdir()
    name = tomllib.loads(block)["id"]
    (tmp_path / "profiles" / f"{name}.toml").write_text(block, encoding="utf-8")
    found = call("show", name, "--site", tmp_path)
    assert found.exit_code == 0, found.exception
    profile = load_profiles(tmp_path / "profiles")[name]
    assert profile.durations
    assert profile.stages
    assert profile.exposure
    assert profile.sex is not None
    shown = profile.model_dump()
    assert [source for source in sources(shown) if source not in found.stdout] == []
    assert [number for number in numbers(shown) if f"{number:g}" not in found.stdout.replace(",", "")] == []
    for words in ("in its last tenth", "within 24 h", "heat is counted with T0", "no temperature promises a sex"):
        assert words in found.stdout
    assert f"{name} " in call("list", "--site", tmp_path).stdout


def test_the_days_of_a_profile_of_durations_are_those_it_states(tmp_path: Path) -> None:
    text = (BUILT_IN / "python-regius.toml").read_text(encoding="utf-8")
    rows = "".join(
        f'\n[[duration]]\ntemperature_c = {at_c}\ndays = {days}\nsource = "own records 2025"\n'
        for at_c, days in ((29, 71), (31, 58), (32, 54))
    )
    own_profile(tmp_path, text + rows)
    [line] = [one for one in call("list", "--site", tmp_path).stdout.splitlines() if one.startswith("python-regius")]
    assert line.split()[2:] == ["54-71", "29-32", "durations"]


@pytest.mark.parametrize("name", sorted(name for name, profile in PROFILES.items() if profile.caution))
def test_a_caution_is_the_first_thing_that_is_shown(name: str) -> None:
    assert call("show", name).stdout.startswith(f"Caution: {PROFILES[name].caution}\n")
    assert next(iter(json.loads(call("show", name, "--json").stdout))) == "caution"


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_a_profile_for_programs_is_the_whole_profile(name: str) -> None:
    assert json.loads(call("show", name, "--json").stdout) == json.loads(PROFILES[name].model_dump_json())


def test_days_by_the_line_are_those_that_the_paper_observed() -> None:
    """Bungarus multicinctus took 85 d at 24 °C and 41 d at 30 °C (Ji, Gao and Han 2007); the line errs by 6 %."""
    [line] = [line for line in call("show", "bungarus-multicinctus").stdout.splitlines() if "by this line" in line]
    words = line.split()
    assert float(words[3]) == pytest.approx(85, rel=0.06)
    assert float(words[8]) == pytest.approx(41, rel=0.06)


@pytest.mark.parametrize(
    ("word", "hint"),
    [
        ("elaphe-taeniurus", 'Did you mean "elaphe-taeniura"?'),
        ("corn snake", "Did you mean pantherophis-guttatus?"),
        ("Naja atra", "Did you mean naja-atra?"),
    ],
)
def test_a_name_that_is_no_profile_is_refused_with_the_nearest_one(word: str, hint: str) -> None:
    refused = call("show", word)
    assert refused.exit_code == 2
    assert hint in refused.stderr


def test_a_keepers_own_profile_takes_the_place_of_the_built_in_one(tmp_path: Path) -> None:
    text = (BUILT_IN / "python-regius.toml").read_text(encoding="utf-8")
    own_profile(tmp_path, text.replace('common_name = "ball python"', 'common_name = "royal [red] python"'))
    assert "royal [red] python" in call("list", "--site", tmp_path).stdout
    assert "royal [red] python" in call("show", "python-regius", "--site", tmp_path / "site.toml").stdout
    assert "royal [red] python" not in call("list").stdout
    assert len(listed("--site", tmp_path)) == len(PROFILES)


def test_a_mistake_in_a_keepers_own_profile_is_told_with_its_file(tmp_path: Path) -> None:
    own_profile(tmp_path, 'id = "python-regius"\n')
    refused = call("list", "--site", tmp_path)
    assert isinstance(refused.exception, ConfigError)
    assert "profiles/python-regius.toml" in str(refused.exception)


def test_a_site_folder_that_does_not_exist_is_refused(tmp_path: Path) -> None:
    refused = call("list", "--site", tmp_path / "nowhere")
    assert refused.exit_code == 2
    assert "There is no folder" in refused.stderr


def test_profiles_of_a_stated_folder_count_as_they_do_for_hatch(tmp_path: Path) -> None:
    text = (BUILT_IN / "pantherophis-guttatus.toml").read_text(encoding="utf-8")
    own = text.replace('id = "pantherophis-guttatus"', 'id = "my-snake"')
    (tmp_path / "my-snake.toml").write_text(own, encoding="utf-8")
    assert call("show", "my-snake", "--profiles", tmp_path).exit_code == 0
    assert "my-snake" in listed("--profiles", tmp_path)
    refused = call("show", "my-snake", "--profiles", tmp_path / "nowhere")
    assert refused.exit_code == 2
    assert "--profiles: there is no folder" in refused.stderr
