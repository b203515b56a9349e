"""A share that somebody else writes to as well: nothing there stops the backups, or leads out of the folder."""

import json
import os
from pathlib import Path

import pytest

from daemon import backup_folder
from daemon.backup_task import BackupTask
from daemon.backups.errors import BackupError
from daemon.backups.keeping import Dated, Kept, to_remove
from daemon.backups.names import JOURNAL, MANIFEST
from daemon.storage.journal import Journal
from tests.backups.house import BackedUp
from tests.storage.chained import whole, write_event

AT = "2026-10-03T0130"


@pytest.fixture
def origin(house: BackedUp) -> str:
    return house.back_up().origin


def put(house: BackedUp, origin: str, seconds: int, manifest: str) -> Path:
    place = house.backups / f"{AT}{seconds:02d}Z-{origin}"
    place.mkdir()
    (place / MANIFEST).write_text(manifest, encoding="utf-8")
    (place / JOURNAL).write_bytes(b"")
    return place


def test_a_manifest_of_any_kind_is_a_backup_that_cannot_be_used_and_no_more(house: BackedUp, origin: str) -> None:
    said = {
        "what": "clutchwarden backup",
        "format": 1,
        "name": "x",
        "version": "1",
        "schema": 1,
        "site": "s",
        "origin": origin,
        "counts": {},
        "files": [{"name": JOURNAL, "byte_count": 0, "sha256": ""}],
    }
    texts = [
        "[" * 200_000,
        json.dumps({**said, "made_ms": -62_167_219_200_001}),
        json.dumps({**said, "made_ms": 10**30}),
        json.dumps({**said, "made_ms": 0, "files": [{"name": "../../x", "byte_count": 0, "sha256": ""}]}),
        json.dumps({**said, "made_ms": 0, "warnings": ["x" * 1000] * 5_000}),
    ]
    for number, text in enumerate(texts):
        put(house, origin, number, text)
    pipe = house.backups / f"{AT}59Z-{origin}"
    pipe.mkdir()
    os.mkfifo(pipe / MANIFEST)
    there = backup_folder.listed(house.backups, origin)
    assert [bool(each.problem) for each in there] == [True] * (len(texts) + 1) + [False]
    dated = [Dated(each.name, each.made_ms) for each in there]
    assert to_remove(dated, Kept(1, 0, 0), house.zone, {there[-1].name}, there[0].made_ms) == ()


def test_a_link_is_removed_and_what_it_leads_to_stays(house: BackedUp, origin: str, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "kept").write_text("precious", encoding="utf-8")
    name = f"{AT}00Z-{origin}"
    (house.backups / name).symlink_to(outside)
    backup_folder.remove(house.backups, name)
    (house.backups / f".unfinished-{name}").symlink_to(outside)
    (house.backups / f".unfinished-{AT}01Z-{origin}").write_text("a file", encoding="utf-8")
    # What was left is no reason to make no backup any more.
    house.back_up()
    assert (outside / "kept").read_text(encoding="utf-8") == "precious"
    assert not [one for one in house.names() if one.startswith(".unfinished")]


@pytest.fixture(params=[0.0, 0.5, 0.99])
def going(house: BackedUp, request: pytest.FixtureRequest) -> BackupTask:
    """A task in whose course the share is gone, and an empty folder lies there instead."""
    away = house.folder / "away"

    def told(_what: str, share: float) -> None:
        if share >= request.param and not away.exists():
            house.backups.rename(away)
            house.backups.mkdir()

    return BackupTask(told)


def test_a_share_that_goes_meanwhile_is_told_and_nothing_stays_in_its_place(
    house: BackedUp, origin: str, going: BackupTask
) -> None:
    del origin
    with pytest.raises(BackupError):
        house.back_up(going)
    assert not [each for each in house.backups.rglob("*") if each.name != "photos"]


def test_a_restored_journal_goes_on_with_its_chain(house: BackedUp, tmp_path: Path) -> None:
    made = house.back_up()
    copied = tmp_path / "copy.sqlite3"
    copied.write_bytes((house.backups / made.name / JOURNAL).read_bytes())
    with Journal.open(copied) as journal:
        write_event(journal, 1)
    found = whole(copied)
    assert found.waiting_events == 0
    assert not found.faults
