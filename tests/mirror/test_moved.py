"""A probe that is moved and a site that gets another name: nothing is in the mirror twice, and both ways back work."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest

from daemon.commands.site_folder import read_site
from daemon.mirror.former import FormerSeries, others, series_at
from daemon.storage import samples
from daemon.storage.journal import Journal
from tests.mirror.house import AIR, BUCKET, MINUTE_MS, START_MS, Mirrored
from tests.mirror.test_commands import in_site

OLD, NOW = {"place": "north/upper"}, {"place": "north/upper/N1"}


def tags_at(former: Sequence[FormerSeries], now: Mapping[str, str], at_ms: int) -> Mapping[str, str]:
    then = series_at(others(former, now), at_ms)
    return now if then is None else then.tags


@pytest.mark.parametrize(
    ("at_ms", "expected"),
    [(9, NOW), (10, OLD), (20, OLD), (21, NOW), (25, NOW)],
)
def test_a_reading_goes_where_it_was_written_then(at_ms: int, expected: dict[str, str]) -> None:
    former = [FormerSeries(OLD, 10, 20), FormerSeries(NOW, 21, 30)]
    assert tags_at(former, NOW, at_ms) == expected
    assert tags_at([], NOW, at_ms) == NOW


def test_a_probe_that_came_back_has_been_away_in_between() -> None:
    former = [FormerSeries(NOW, 0, 100), FormerSeries(OLD, 40, 60)]
    assert [tags_at(former, NOW, at_ms) for at_ms in (39, 40, 60, 61)] == [NOW, OLD, OLD, NOW]


def points(house: Mirrored) -> int:
    [counted] = house.ask("SELECT count(value) FROM reading")
    return int(float(str(counted["count"])))


def stays(house: Mirrored, site: str) -> dict[str, tuple[int, int]]:
    """The first and last minute of each place under a name of the site."""
    found: dict[str, tuple[int, int]] = {}
    for row in house.ask(f"SELECT value, place FROM reading WHERE site = '{site}'"):
        minute = (int(float(str(row["time"]))) - START_MS) // MINUTE_MS
        first, last = found.get(str(row["place"]), (minute, minute))
        found[str(row["place"])] = min(first, minute), max(last, minute)
    return found


def move(house: Mirrored, place: str) -> None:
    file = house.folder / "site.toml"
    file.write_text(file.read_text().replace('place = "north/upper"\n', f'place = "{place}"\n'))
    house.site = read_site(house.folder).site


@pytest.mark.services
def test_after_a_move_backfill_mend_and_restore_know_every_reading_once(house: Mirrored, tmp_path: Path) -> None:
    house.store(0, 100)
    assert in_site(house, "backfill").exit_code == 0
    move(house, "north/upper/N1")
    house.store(100, 50)
    for _ in range(2):
        filled = in_site(house, "backfill")
        assert filled.exit_code == 0, filled.output
        assert points(house) == 300, "150 minutes of two channels, each once"
    assert stays(house, "Test house") == {"north/upper": (0, 99), "north/upper/N1": (100, 149)}
    climates = house.ask("SELECT dew_point_c, place FROM climate")
    assert {row["place"] for row in climates if row["time"] < START_MS + 90 * MINUTE_MS} == {"north/upper"}  # type: ignore[operator]
    assert house.differing() == []
    # A point of before the move is damaged there, as another program may: it is mended where it is.
    [old] = house.ask(f"SELECT * FROM reading WHERE time = {START_MS + 5 * MINUTE_MS}ms AND channel = '{AIR.channel}'")
    tags = f"channel={AIR.channel},incubator=north,journal={old['journal']},place=north/upper,probe=north-air"
    house.engine.write(
        BUCKET,
        f"reading,{tags},quantity=air_temperature,site=Test\\ house value=99 {START_MS + 5 * MINUTE_MS}",
    )
    assert [len(day.difference.different) for day in house.differing()] == [1]
    mended = in_site(house, "compare", "--mend")
    assert mended.exit_code == 0, mended.output
    assert points(house) == 300
    restored = in_site(house, "restore", "--to", str(tmp_path / "anew.sqlite3"))
    assert restored.exit_code == 0, restored.output
    with Journal.open(tmp_path / "anew.sqlite3") as anew, anew.read() as conn, house.journal.read() as own:
        assert samples.after(conn, 0, 1000) == samples.after(own, 0, 1000)
    house.rename("Another house")
    assert in_site(house, "backfill").exit_code == 0
    assert stays(house, "Another house") == stays(house, "Test house")
    assert house.differing() == []
