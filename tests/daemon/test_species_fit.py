"""`clutchwarden species fit`: a file or a few pairs in, a line with its errors and a block for a profile out."""

import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from config.errors import ConfigError
from config.species import BUILT_IN, DevelopmentFit, load_profiles
from daemon.commands import species

RUNNER = CliRunner(env={"CLUTCHWARDEN_SITE": None, "COLUMNS": "80"})
KRAIT = "24:85,27:61.6,30:41"
"""Bungarus multicinctus: Ji, Gao and Han 2007, Zoological Science 24:384-390, as compiled in RepDevo."""
HOUSE_GECKO = "20:73,24:61,28:55"
"""Hemidactylus frenatus: Ota 1994, Ecological Research 9:121-130, figure 6, as compiled in RepDevo."""
TURTLE = "24:78,31:42"
"""Emydura signata: Booth 1998, Physiological Zoology 71:23-26."""


def call(*arguments: str | Path) -> Result:
    return RUNNER.invoke(species.app, ["fit", *(str(each) for each in arguments)])


def fitted(*arguments: str | Path) -> dict[str, Any]:
    done = call(*arguments, "--json")
    assert done.exit_code == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def written(folder: Path, text: str) -> Path:
    path = folder / "durations.csv"
    path.write_text(text, encoding="utf-8")
    return path


def profile_with(block: str, folder: Path) -> DevelopmentFit | None:
    """The block in place of whatever the built-in profile of a species without a line says of development."""
    text = (BUILT_IN / "python-regius.toml").read_text(encoding="utf-8")
    assert "[development]" not in text
    (folder / "python-regius.toml").write_text(f"{text}\n{block}", encoding="utf-8")
    return load_profiles(folder)["python-regius"].development


def test_pairs_on_the_command_line_give_the_published_line() -> None:
    found = fitted("--durations", TURTLE)
    assert found["developmental_zero_c"] == pytest.approx(15.83, abs=0.005)
    assert found["thermal_constant_ch"] == pytest.approx(15_288, abs=0.5)
    assert (found["flag"], found["developmental_zero_u_k"], found["covariance_ch_k"]) == ("two-point", None, None)
    assert "(error unknown)" in call("--durations", TURTLE).stdout


def test_a_line_is_shown_with_its_errors_its_worth_and_each_observed_duration() -> None:
    found = fitted("--durations", KRAIT)
    shown = " ".join(call("--durations", KRAIT).stdout.split())
    assert f"T0 {found['developmental_zero_c']:.2f} °C ± {found['developmental_zero_u_k']:.2f} K" in shown
    assert f"K {found['thermal_constant_ch']:,.0f} °C·h ± {found['thermal_constant_u_ch']:,.0f} °C·h" in shown
    assert f"Correlation of both {found['correlation']:.4f}" in shown
    assert "Worth good:" in shown
    for days in ("85.0", "61.6", "41.0"):
        assert f"│ {days} │" in shown
    assert found["covariance_ch_k"] == pytest.approx(
        found["correlation"] * found["developmental_zero_u_k"] * found["thermal_constant_u_ch"]
    )


def test_the_block_is_refused_until_its_source_is_filled_in_and_then_holds_the_line(tmp_path: Path) -> None:
    found = fitted("--durations", KRAIT)
    assert found["toml"] in call("--durations", KRAIT).stdout
    with pytest.raises(ConfigError, match="source"):
        profile_with(found["toml"], tmp_path)
    development = profile_with(found["toml"].replace('source = ""', 'source = "Ji et al. 2007"', 1), tmp_path)
    assert development is not None
    assert development.developmental_zero_c == pytest.approx(found["developmental_zero_c"], abs=0.005)
    assert development.thermal_constant_ch == pytest.approx(found["thermal_constant_ch"], abs=0.5)
    assert (development.fit_low_c, development.fit_high_c, development.cap_c) == (24, 30, 30)
    assert (development.flag, development.pooled) == ("good", False)


@pytest.mark.parametrize("durations", [TURTLE, "20:100,24:60,28:52", "20:100,24:52,28:57", "22.5:91,26.25:64,30.5:49"])
def test_the_block_of_every_usable_line_fits_a_profile(durations: str, tmp_path: Path) -> None:
    block = fitted("--durations", durations)["toml"].replace('source = ""', 'source = "own records 2026"', 1)
    assert profile_with(block, tmp_path) is not None


def test_sources_of_the_file_come_into_the_block_whatever_characters_they_hold(tmp_path: Path) -> None:
    odd = 'Mara "M." Alder \\ [red] °C \x7f 2025'
    path = written(
        tmp_path, f'temperature_c,days,source\n24,85,"{odd.replace(chr(34), chr(34) * 2)}"\n27,61.6,Ji 2007\n'
    )
    with path.open("a", encoding="utf-8") as more:
        more.write("30,41,Ji 2007\n34,50,not taken\n")
    found = fitted(path, "--upto", "31")
    assert found["pooled"]
    assert found["left_out_c"] == [34]
    development = profile_with(found["toml"], tmp_path)
    assert development is not None
    assert development.pooled
    assert development.source.startswith('Mara "M." Alder \\ [red] °C   2025; Ji 2007. Ordinary least squares')
    assert development.source.endswith("34 °C left out")
    assert "not taken" not in development.source


def test_a_line_that_is_not_to_be_used_makes_no_block() -> None:
    found = fitted("--durations", HOUSE_GECKO)
    assert (found["flag"], found["toml"]) == ("do not use", None)
    shown = call("--durations", HOUSE_GECKO).stdout
    assert "[development]" not in shown
    assert "tells no date" in shown


def test_a_file_gives_what_the_same_pairs_give_and_counts_eggs(tmp_path: Path) -> None:
    text = "# krait\n Temperature_C ,days,n,days_sd,notes\n24,85,13,2.2,a\n\n27,61.6,,,b\n30,41,4,1.5,c\n"
    found = fitted(written(tmp_path, text))
    pairs = fitted("--durations", KRAIT)
    assert found["thermal_constant_ch"] == pairs["thermal_constant_ch"]
    assert [point["eggs"] for point in found["points"]] == [13, None, 4]
    # By hand: the root of (12 * (2.2/85)^2 + 3 * (1.5/41)^2)/15 is 2.83 %.
    assert found["within_treatment_cv_pct"] == pytest.approx(2.83, abs=0.005)


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_a_spreadsheets_other_delimiters_and_byte_order_mark_are_understood(tmp_path: Path, delimiter: str) -> None:
    path = tmp_path / "durations.csv"
    lines = ["temperature_c,days", "24,85", "27,61.6", "30,41"]
    path.write_text("\r\n".join(line.replace(",", delimiter) for line in lines), encoding="utf-8-sig")
    assert fitted(path)["thermal_constant_ch"] == fitted("--durations", KRAIT)["thermal_constant_ch"]


def test_each_row_can_be_a_point_of_its_own() -> None:
    often = "24:85,24:84,24:86,27:61.6,30:41"
    assert len(fitted("--durations", often)["points"]) == 3
    each = fitted("--durations", often, "--each-row")
    assert len(each["points"]) == 5
    assert "one point for each duration" in each["toml"]


def test_temperatures_beyond_the_straight_part_are_told() -> None:
    warm = call("--durations", f"{KRAIT},33:40").stdout
    assert "--upto 30.5" in warm
    limited = call("--durations", f"{KRAIT},33:40", "--upto", "30.5").stdout
    assert "--upto 30.5" not in limited
    assert re.search(r"Left out +33 °C", limited)


@pytest.mark.parametrize(
    ("durations", "said"),
    [
        ("24:85", "A line needs two temperatures"),
        ("24:61,6", "'6' is not a temperature and a duration. Write °C:days"),
        ("24:85,warm:41", "'warm' in warm:41 is not a number"),
        ("75:85,86:41", "75 °F is 23.9 °C"),
        ("24:40,30:60", "do not fall with warmth"),
        ("24:0,30:60", "0 days at 24 °C"),
        ("20:10000,25:5000,30:30", "reaches zero at 21.6 °C"),
    ],
)
def test_pairs_that_give_no_line_are_refused_in_words(durations: str, said: str) -> None:
    refused = call("--durations", durations)
    assert refused.exit_code == 2
    assert said in refused.stderr
    assert refused.stdout == ""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "holds no durations"),
        ("# only a remark\n", "holds no durations"),
        ("temperature_c,days\n", "here is none"),
        ("temperature,days\n24,85\n", "has no column temperature_c; its columns are temperature, days"),
        ("temperature_f,time\n75,85\n", "has no column temperature_c and no column days"),
        ("temperature_c,days\n24,85\n27,61,6\n", "Line 3 of"),
        ("temperature_c;days\n24,5;85\n", "'24,5' in line 2"),
        ("temperature_c,days\n24,\n", "'' in line 2"),
        ("temperature_c,days\n24\n", "'' in line 2"),
        ("temperature_c,days,n\n24,85,13.5\n", "'13.5' in line 2"),
        ("temperature_c,days,n\n24,85,0\n30,41,3\n", "0 eggs at 24 °C"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_with_the_line(tmp_path: Path, text: str, said: str) -> None:
    refused = call(written(tmp_path, text))
    assert refused.exit_code == 2
    assert said in refused.stderr
    assert refused.stdout == ""


def test_a_file_that_is_missing_or_not_text_is_refused(tmp_path: Path) -> None:
    assert "cannot be read: no such file" in call(tmp_path / "nowhere.csv").stderr
    (tmp_path / "sheet.csv").write_bytes(b"temperature_c,days\n24,\xff\n")
    assert "is not UTF-8 text" in call(tmp_path / "sheet.csv").stderr


def test_a_file_and_pairs_at_once_or_neither_are_refused(tmp_path: Path) -> None:
    for arguments in ((), (written(tmp_path, "temperature_c,days\n"), "--durations", KRAIT)):
        refused = call(*arguments)
        assert refused.exit_code == 2
        assert "one of the two" in refused.stderr


def test_the_block_is_toml_as_it_is_printed() -> None:
    printed = call("--durations", KRAIT).stdout.partition("For a profile:")[2]
    assert set(tomllib.loads(printed)["development"]) == set(DevelopmentFit.model_fields)
