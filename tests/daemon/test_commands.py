"""The command line: what a keeper types, what comes back, and the exit code."""

import json
from pathlib import Path

import pytest
from freezegun import freeze_time
from typer.testing import CliRunner, Result

from config.check import check_site
from daemon import cli
from daemon.commands.moments import day_range_ms, moment_ms
from tests.support.household import write_site

RUNNER = CliRunner()
MAY_3_MS = 1_777_766_400_000
"""2026-05-03T00:00:00Z."""


def call(*arguments: str | Path) -> Result:
    return RUNNER.invoke(cli.app, [str(each) for each in arguments], catch_exceptions=True)


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return write_site(tmp_path / "site", 1883, "http://127.0.0.1:9/phone")


def add(site: Path, label: str, place: str = "north/upper/N1", **changed: str) -> Result:
    options = {
        "species": "elaphe-taeniura",
        "laid": "2026-05-01..2026-05-02",
        "eggs": "9",
        "set-up": "2026-05-03 10:00",
    }
    given = [part for key, value in {**options, **changed}.items() for part in (f"--{key}", value)]
    return call("clutch", "add", label, "--site", site, "--place", place, *given)


def test_a_new_folder_passes_the_check_and_is_never_written_over(tmp_path: Path) -> None:
    folder = tmp_path / "eggs"
    assert call("new", folder).exit_code == 0
    assert [one for one in check_site(folder).mistakes if one.severity == "mistake"] == []
    assert call("check", folder).exit_code == 0
    (folder / "site.toml").write_text("mine")
    again = call("new", folder)
    assert again.exit_code == 2
    assert "nothing was written" in again.stderr
    assert (folder / "site.toml").read_text() == "mine"


def test_a_clutch_is_added_listed_moved_and_closed(site: Path) -> None:
    assert add(site, "Juniper").exit_code == 0
    listed = json.loads(call("clutch", "list", "--json", "--site", site).stdout)
    assert [one["label"] for one in listed] == ["Juniper"]
    assert listed[0]["egg_count"] == 9
    assert listed[0]["placements"] == [{"place": "north/upper/N1", "from_ms": MAY_3_MS + 8 * 3_600_000}]  # Madrid
    assert call("clutch", "move", "juniper", "north", "--at", "2026-05-10", "--site", site).exit_code == 0
    assert "north" in call("clutch", "list", "--site", site).stdout
    assert call("clutch", "close", "Juniper", "--rest", "hatched", "--site", site).exit_code == 0
    assert json.loads(call("clutch", "list", "--json", "--site", site).stdout) == []
    assert len(json.loads(call("clutch", "list", "--all", "--json", "--site", site).stdout)) == 1


def test_a_place_is_read_whole_in_the_list_on_a_narrow_screen(site: Path) -> None:
    add(site, "Juniper of the second shelf of 2026")
    found = CliRunner().invoke(cli.app, ["clutch", "list", "--site", str(site)], env={"COLUMNS": "80"})
    assert "north/upper/N1" in found.stdout.split()


def test_how_warm_the_eggs_lay_before_is_kept_and_told_and_else_it_is_the_room(site: Path) -> None:
    assert "at 20.0 °C, as warm as the room" in add(site, "Juniper").stdout
    told = add(site, "Tansy", "north/upper", **{"kept-at": "24.5", "kept-within": "1"})
    assert "before the set-up at 24.5 °C" in told.stdout
    listed = json.loads(call("clutch", "list", "--json", "--site", site).stdout)
    assert [(one["before_c"], one["before_u_k"]) for one in listed] == [(None, None), (24.5, 1.0)]


def test_a_site_in_fahrenheit_states_how_warm_the_eggs_lay_in_fahrenheit(site: Path) -> None:
    file = site / "site.toml"
    file.write_text(file.read_text().replace('time_zone = "', 'temperature_unit = "F"\ntime_zone = "', 1))
    assert "at 75.2 °F" in add(site, "Juniper", **{"kept-at": "75.2", "kept-within": "1.8"}).stdout
    [listed] = json.loads(call("clutch", "list", "--json", "--site", site).stdout)
    assert listed["before_c"] == pytest.approx(24.0)
    assert listed["before_u_k"] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"species": "elaphe-taeniurus"}, 'Did you mean "elaphe-taeniura"?'),
        ({"eggs": "0"}, "0 eggs are not a clutch"),
        ({"laid": "2026-05-09..2026-05-01"}, "ends before it begins"),
        ({"laid": "1st of May"}, "is not a date"),
        ({"set-up": "2026-04-01"}, "before it can have been laid"),
        ({"kept-at": "75"}, "75.0 °C (167.0 °F) before the set-up is not what eggs were kept at"),
        ({"kept-within": "2"}, "says nothing of how warm the eggs lay"),
    ],
)
def test_a_clutch_that_cannot_be_is_refused_with_the_reason(site: Path, changed: dict[str, str], said: str) -> None:
    refused = add(site, "Juniper", **changed)
    assert refused.exit_code != 0
    spoken = f"{refused.stderr} {refused.exception}".replace("│", " ")
    assert said in " ".join(spoken.split())


def test_a_box_that_does_not_exist_is_refused_with_the_nearest_one(site: Path) -> None:
    refused = add(site, "Juniper", "north/uper/N1")
    assert refused.exit_code == 2
    assert 'Did you mean "north/upper/N1"?' in refused.stderr


def test_a_second_clutch_in_one_box_is_refused_by_name(site: Path) -> None:
    add(site, "Juniper")
    refused = add(site, "Bracken")
    assert refused.exit_code == 2
    assert "holds Juniper since 2026-05-03 10:00." in refused.stderr


@freeze_time("2026-05-04 12:00:00")
def test_what_has_not_happened_yet_is_refused(site: Path) -> None:
    assert "in the future" in add(site, "Juniper", **{"set-up": "2026-05-05"}).stderr
    assert add(site, "Juniper").exit_code == 0


def test_check_names_clutches_that_no_temperature_suits_both(site: Path) -> None:
    add(site, "Juniper")
    add(site, "Gecko", "north/upper", species="correlophus-ciliatus")
    add(site, "Saffron", "north/upper", species="morelia-spilota")
    found = call("check", site)
    assert found.exit_code == 0  # a warning: the eggs are there already
    words = " ".join(found.stdout.split())
    assert "Gecko" in words
    assert "Saffron" in words
    assert "no temperature suits both" in words


def test_check_names_a_clutch_whose_box_is_gone_and_one_without_a_profile(site: Path) -> None:
    add(site, "Juniper")
    text = (site / "site.toml").read_text().replace('id = "N1"', 'id = "N7"')
    (site / "site.toml").write_text(text)
    found = call("check", site)
    assert found.exit_code == 2
    assert "Juniper" in found.stdout
    assert "north/upper/N1" in found.stdout


def test_check_of_a_site_with_fahrenheit_in_it_says_so_and_ends_with_2(site: Path) -> None:
    text = (site / "site.toml").read_text().replace("room_temperature_c = 20", "room_temperature_c = 82")
    (site / "site.toml").write_text(text)
    found = call("check", site)
    assert found.exit_code == 2
    assert "looks like °F" in found.stdout


def test_a_known_error_is_a_sentence_and_exit_2_not_a_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.argv", ["clutchwarden", "run", str(tmp_path / "nowhere")])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    assert ended.value.code == 2
    said = capsys.readouterr().err
    assert "nowhere" in said
    assert "Traceback" not in said


def test_a_moment_is_local_to_the_site() -> None:
    from zoneinfo import ZoneInfo

    madrid = ZoneInfo("Europe/Madrid")
    assert moment_ms("2026-05-03 02:00", madrid, "--at") == MAY_3_MS
    assert moment_ms("2026-05-03T02:00", madrid, "--at") == MAY_3_MS
    start, end = day_range_ms("2026-05-03", ZoneInfo("UTC"), "--laid")
    assert (start, end) == (MAY_3_MS, MAY_3_MS + 86_399_000)
    with pytest.raises(Exception, match="clocks went forward"):
        moment_ms("2026-03-29 02:30", madrid, "--at")
