"""The register as commands and pages use it: refusals are values with a field, worded in the zone of the site."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from config.check import check_site
from config.places import Places
from daemon.clutches.closing import Closing
from daemon.clutches.desk import Refusal, RegisterDesk
from daemon.clutches.egg_rules import stated_as
from daemon.clutches.eggs import EggCounts
from daemon.clutches.measures import NewMeasure
from daemon.clutches.values import is_venomous
from daemon.occupancy import Occupancy
from daemon.storage.journal import Journal
from tests.support.household import DAY_MS, a_clutch, write_site
from tests.support.journals import new_journal

START_MS = 1_780_000_000_000
"""2026-05-28 20:26:40 UTC, 22:26:40 in Madrid, which is the zone of the site."""
NOW_MS = START_MS + 30 * DAY_MS


@dataclass
class Bench:
    """A desk over a real journal; `clutch` lies in box N1 since the start."""

    desk: RegisterDesk
    journal: Journal
    clutch: int


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    checked = check_site(write_site(tmp_path / "site", 1883))
    assert checked.site is not None
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        desk = RegisterDesk(journal, checked.site, checked.profiles, lambda: NOW_MS)
        number = desk.add(a_clutch(START_MS), "kim")
        assert isinstance(number, int)
        yield Bench(desk, journal, number)


def refusal(answer: object) -> Refusal:
    assert isinstance(answer, Refusal)
    assert answer.reason
    assert answer.hint
    return answer


def test_a_refusal_names_the_field_and_tells_moments_in_the_zone_of_the_site(bench: Bench) -> None:
    told = refusal(bench.desk.move(bench.clutch, "north", "kim", at_ms=START_MS - 1))
    assert told.field == "at"
    assert "it was set up at 2026-05-28 22:26" in told.reason
    assert "UTC" not in told.reason
    assert refusal(bench.desk.move(bench.clutch, "north/uper/N1", "kim")).field == "place"
    assert refusal(bench.desk.add(a_clutch(START_MS), "kim")).field == "label"
    assert refusal(bench.desk.edit(bench.clutch, {"species_id": "elaphe"}, "kim")).field == "species"
    assert refusal(bench.desk.say_of_eggs(bench.clutch, "removed", ["1"], "kim")).field == "reason"
    assert refusal(bench.desk.say_of_eggs(bench.clutch, "watch", ["X"], "kim")).field == "eggs"
    assert refusal(bench.desk.say_of_eggs(bench.clutch, "watch", 9, "kim")).field == "count"
    assert refusal(bench.desk.measure(bench.clutch, NewMeasure(NOW_MS), "kim")).field == "mass_g"
    assert refusal(bench.desk.note(bench.clutch, "", "kim")).field == "text"
    assert refusal(bench.desk.close(bench.clutch, Closing(NOW_MS), "kim")).field == "rest"
    assert refusal(bench.desk.find("Junper")).hint == 'Did you mean "Juniper"?'
    assert bench.desk.file(99) is None


def test_a_refused_step_of_several_leaves_nothing_behind(bench: Bench) -> None:
    """Marking B is possible; A on two eggs is not, and so neither is kept."""
    refusal(bench.desk.mark(bench.clutch, {"1": "B", "2": "A", "3": "A"}, "kim"))
    closing = Closing(NOW_MS, hatched=3)
    refusal(bench.desk.close(bench.clutch, closing, "kim"))
    found = bench.desk.file(bench.clutch)
    assert found is not None
    assert [egg.name for egg in found.eggs] == [str(number) for number in range(1, 9)]
    assert found.events == ()
    assert [change.what for change in found.changes] == ["add"]


def test_the_life_of_a_clutch_at_the_desk(bench: Bench) -> None:
    desk, clutch = bench.desk, bench.clutch
    assert desk.move(clutch, "north/upper", "kim", at_ms=START_MS + DAY_MS) == START_MS + DAY_MS
    assert isinstance(desk.mark(clutch, {"1": "A"}, "kim"), list)
    desk.say_of_eggs(clutch, "removed:mould", ["A"], "ida", "grey")
    desk.measure(clutch, NewMeasure(NOW_MS, mass_g=20.0), "ida", egg="2")
    desk.note(clutch, "dry", "ida")
    assert desk.all() == [(desk.find("Juniper"), EggCounts(8, sound=7, lost=1))]
    counts = desk.close(clutch, Closing(NOW_MS, rest=stated_as("hatched")), "kim")
    assert counts == EggCounts(8, sound=0, lost=1, hatched=7)
    assert desk.all() == []
    assert len(desk.all(include_closed=True)) == 1
    found = desk.file(clutch)
    assert found is not None
    assert found.counts == counts
    assert [one.measured.egg for one in found.measures] == [2]
    assert [one.text for one in found.notes] == ["dry"]
    refusal(desk.find("Juniper"))
    closed = desk.find("Juniper", include_closed=True)
    assert not isinstance(closed, Refusal)
    assert closed.clutch_id == clutch
    assert not isinstance(desk.reopen(clutch, "kim", "too early"), Refusal)
    assert not isinstance(desk.withdraw(clutch, "kim"), Refusal)
    assert desk.all(include_closed=True) == []


def test_the_venomous_species_among_the_profiles_are_marked_as_such(bench: Bench, tmp_path: Path) -> None:
    """By the cautions of the profiles themselves: those that begin with that word."""
    checked = check_site(write_site(tmp_path / "other", 1883))
    marked = {name for name, profile in checked.profiles.items() if profile.venomous}
    assert marked == {"naja-atra", "bungarus-multicinctus", "deinagkistrodon-acutus"}
    assert marked == {
        name for name, profile in checked.profiles.items() if (profile.caution or "").startswith("Venomous")
    }


def test_a_clutch_is_venomous_by_its_profile_unless_somebody_said_otherwise(bench: Bench, tmp_path: Path) -> None:
    checked = check_site(write_site(tmp_path / "other", 1883))
    assert checked.site is not None
    clutch = bench.desk.find("Juniper")
    assert not isinstance(clutch, Refusal)
    assert not is_venomous(clutch, profile_says=False)
    assert is_venomous(clutch, profile_says=True)
    bench.desk.edit(bench.clutch, {"venomous": True}, "kim", "crossed")
    flagged = bench.desk.find("Juniper")
    assert not isinstance(flagged, Refusal)
    assert is_venomous(flagged, profile_says=False)
    occupancy = Occupancy([flagged], Places(checked.site), checked.profiles)
    assert occupancy.needs_caution(flagged)
    assert not occupancy.needs_caution(clutch)
