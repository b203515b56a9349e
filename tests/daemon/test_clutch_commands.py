"""The register from the command line: what a keeper types, what comes back, and the exit code."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.storage.journal import Journal
from tests.support.household import write_site

RUNNER = CliRunner()


class Typed:
    """A site and its commands; `told` gives standard output, or the reason where the command was refused."""

    def __init__(self, site: Path) -> None:
        self.site = site

    def call(self, *arguments: str | Path) -> Result:
        return RUNNER.invoke(cli.app, ["clutch", *map(str, arguments), "--site", str(self.site)])

    def told(self, *arguments: str | Path) -> str:
        found = self.call(*arguments)
        assert found.exit_code == 0, found.stderr
        return found.stdout

    def refused(self, *arguments: str | Path) -> str:
        found = self.call(*arguments)
        assert found.exit_code == 2
        assert found.stderr.strip()
        return found.stderr

    def add(self, label: str, place: str, *more: str) -> str:
        given = ("--species", "elaphe-taeniura", "--laid", "2026-05-01..2026-05-02", "--eggs", "9")
        return self.told("add", label, "--place", place, *given, "--set-up", "2026-05-03 10:00", *more)

    def listed(self, *options: str) -> list[dict[str, object]]:
        found: list[dict[str, object]] = json.loads(self.told("list", "--json", *options))
        return found


@pytest.fixture
def typed(tmp_path: Path) -> Typed:
    site = write_site(tmp_path / "site", 1883)
    file = site / "site.toml"
    file.write_text(file.read_text().replace('id = "N1"', 'id = "N1"\n[[incubator.zone.box]]\nid = "N2"', 1))
    found = Typed(site)
    found.add("Juniper", "north/upper/N1")
    return found


def test_what_becomes_of_eggs_is_typed_by_name_or_by_number_of_eggs(typed: Typed) -> None:
    assert "Now 8 sound, 1 on watch." in typed.told("egg", "set", "Juniper", "watch", "3", "--at", "2026-05-20")
    typed.told("egg", "mark", "Juniper", "1=A", "2=B")
    assert "egg A" in typed.told("egg", "set", "Juniper", "removed:mould", "a", "--at", "2026-05-21")
    told = typed.told("egg", "set", "Juniper", "removed:collapsed", "--count", "2", "--at", "2026-05-22")
    assert "2 of those without a mark (taken for it: eggs 9, 8; events 5, 6)" in told
    typed.told("egg", "which", "Juniper", "5", "4")
    assert "taken back that egg 8" in typed.told("egg", "withdraw", "Juniper", "6", "--why", "miscounted")
    [found] = typed.listed()
    assert found["eggs"] == {
        "total": 9, "sound": 6, "watch": 1, "lost": 2, "pipped": 0, "hatched": 0, "left_in_place": 0, "given_away": 0,
    }  # fmt: skip
    assert "is nothing that an egg can be" in typed.refused("egg", "set", "Juniper", "gone", "3")
    assert "it is removed: collapsed since 2026-05-22 00:00" in typed.refused("egg", "set", "Juniper", "watch", "4")
    assert "Say which eggs" in typed.refused("egg", "set", "Juniper", "watch")
    assert "as in 3=A" in typed.refused("egg", "mark", "Juniper", "3")


def test_a_list_has_whole_dates_and_places_in_eighty_columns(typed: Typed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    words = typed.told("list").split()
    assert {"Juniper", "taeniura", "2026-05-01", "north/upper/N1", "2026-05-03", "10:00"} <= set(words)


def test_closing_asks_for_every_egg_and_can_be_taken_back(typed: Typed) -> None:
    assert "what became of 9 of the 9 eggs" in typed.refused("close", "Juniper")
    told = typed.told("close", "Juniper", "--hatched", "6", "--rest", "removed:other", "--at", "2026-07-10")
    assert "Juniper is closed since 2026-07-10 00:00: 6 hatched, 3 lost." in told
    assert typed.listed() == []
    assert "--why" in typed.call("reopen", "Juniper").stderr
    assert "is open again" in typed.told("reopen", "juniper", "--why", "the other box")
    assert len(typed.listed()) == 1


def test_a_clutch_entered_wrongly_is_mended_or_withdrawn_and_its_box_is_free_again(typed: Typed) -> None:
    told = typed.told("edit", "Juniper", "--eggs", "8", "--dam", "Wilma", "--tags", "gift, 26", "--venomous", "yes")
    assert "number of eggs was 9, is 8." in told
    assert "venomous was nothing, is yes." in told
    assert [one["label"] for one in typed.listed("--tag", "gift")] == ["Juniper"]
    assert "set up was 2026-05-03 10:00, is 2026-05-02 09:00." in typed.told(
        "edit", "Juniper", "--set-up", "2026-05-02 09:00"
    )
    assert "is 2026-05-04 00:00." in typed.told("edit", "Juniper", "--set-up", "2026-05-04")
    assert "Nothing to change" in typed.refused("edit", "Juniper")
    assert "takes yes, no or species" in typed.refused("edit", "Juniper", "--venomous", "maybe")
    assert "was entered by mistake" in typed.told("withdraw", "Juniper")
    assert (typed.listed(), [each["label"] for each in typed.listed("--all")]) == ([], ["Juniper"])
    typed.add("Juniper", "north/upper/N1")
    assert typed.told("show", "Juniper", "--number", "1").count("withdrawn") == 1
    # It is not listed, unless all is asked for; the eggs of it are counted still.
    assert 1 not in [each["number"] for each in typed.listed()]
    [gone] = [each for each in typed.listed("--all") if each["number"] == 1]
    assert gone["withdrawn_at_ms"] is not None
    assert gone["eggs"]["total"] == gone["egg_count"]  # type: ignore[index]
    assert "withdrawn" in typed.told("list", "--all")


def test_two_clutches_swap_places(typed: Typed) -> None:
    typed.add("Bracken", "north/upper/N2")
    told = typed.told("swap", "Juniper", "Bracken", "--at", "2026-05-10")
    assert told.count("since 2026-05-10 00:00") == 2
    places = {one["label"]: one["placements"][-1]["place"] for one in typed.listed()}  # type: ignore[index]
    assert places == {"Juniper": "north/upper/N2", "Bracken": "north/upper/N1"}


def test_adding_says_how_to_mend_the_set_up_and_that_way_works(typed: Typed) -> None:
    given = ("--species", "elaphe-taeniura", "--laid", "2026-05-01", "--eggs", "3")
    told = typed.told("add", "Late", "--place", "north/upper/N2", *given)
    assert "clutchwarden clutch edit 'Late' --set-up" in told
    typed.told("edit", "Late", "--set-up", "2026-05-03 14:30")


def test_everything_of_a_clutch_is_shown_in_eighty_columns_and_what_is_dangerous_first(typed: Typed) -> None:
    typed.told("edit", "Juniper", "--venomous", "yes", "--protected", "Annex B " * 20, "--sire", "Fred " * 30)
    typed.told("egg", "set", "Juniper", "removed:stuck", "3", "--at", "2026-05-20", "--note", "grey spot " * 30)
    typed.told("measure", "Juniper", "--mass-g", "180", "--eggs", "9", "--at", "2026-05-04")
    told = typed.told("measure", "Juniper", "--mass-g", "270", "--eggs", "9", "--at", "2026-06-20")
    assert "1.50 times the first mass" in told
    typed.told("note", "Juniper", "feels dry " * 30, "--at", "2026-06-01", "--who", "Ida")
    shown = typed.told("show", "Juniper")
    assert shown.startswith("VENOMOUS: trained handlers only.\nPROTECTED: Annex B")
    assert max(map(len, shown.splitlines())) <= 80
    for words in ("Fred", "left in place since 2026-05-20 00:00", "270 g", "9 eggs together", "feels dry", "(Ida)"):
        assert words in shown
    whole = json.loads(typed.told("show", "Juniper", "--json"))
    assert whole["counts"]["left_in_place"] == 1
    assert "is not 'Bracken'" in typed.refused("show", "Bracken", "--number", "1")


def test_a_note_or_a_size_is_corrected_by_its_number(typed: Typed) -> None:
    typed.told("note", "Juniper", "feels dry")
    typed.told("note", "Juniper", "feels wet", "--corrects", "1")
    assert "feels wet" in typed.told("show", "Juniper")
    assert "has no note number 1" in typed.refused("note", "Juniper", "x", "--corrects", "1")
    typed.told("measure", "Juniper", "--egg", "2", "--length-mm", "41.5")
    assert "taken back" in typed.told("measure", "Juniper", "--withdraw", "1", "--note", "wrong egg")
    assert "no measurement number 1" in typed.refused("measure", "Juniper", "--withdraw", "1")


def test_the_table_goes_out_and_in_with_a_dry_run_that_keeps_nothing(typed: Typed, tmp_path: Path) -> None:
    typed.told("egg", "set", "Juniper", "removed:mould", "3", "--at", "2026-05-20")
    file = tmp_path / "clutches.csv"
    assert "1 clutch written" in typed.told("export", file, "--eggs")
    other = Typed(write_site(tmp_path / "other", 1883))
    dry = other.told("import", file, "--dry-run")
    assert "line 2, clutch Juniper: added: 9 eggs of elaphe-taeniura" in dry
    assert "line 3, egg Juniper: added: egg 3 removed: mould" in dry
    assert "Nothing was kept: this was a dry run." in dry
    assert other.listed() == []
    assert "Rows: 2 added.\nAll of it is kept." in other.told("import", file)
    again = tmp_path / "again.csv"
    other.told("export", again, "--eggs")
    assert again.read_bytes() == file.read_bytes()
    assert other.call("export", "--eggs").stdout_bytes.replace(b"\r\n", b"\n") == file.read_bytes().replace(
        b"\r\n", b"\n"
    )
    assert "Rows: 2 as on record." in other.told("import", file)


def test_of_a_table_with_one_wrong_row_nothing_is_kept_and_every_wrong_row_is_told(
    typed: Typed, tmp_path: Path
) -> None:
    file = tmp_path / "clutches.csv"
    file.write_text(
        "label,species,place,laid_from,set_up,egg_count\n"
        "Good,elaphe-taeniura,north/upper/N2,2026-05-01,2026-05-03,9\n"
        "Bad,elaphe-taeniura,north/upper/N1,2026-05-01,2026-05-03,9\n"
        "Worse,elaphe-taeniurus,north/upper,2026-05-01,2026-05-03,9\n"
    )
    found = typed.call("import", file)
    assert found.exit_code == 2
    assert "line 3, clutch Bad: refused: the box north/upper/N1 holds Juniper since 2026-05-03 10:00." in found.stdout
    assert "line 4, clutch Worse: refused: there is no species" in found.stdout
    assert "Nothing was kept" in found.stderr
    assert [one["label"] for one in typed.listed()] == ["Juniper"]
    with Journal.open(typed.site / "data" / "journal.sqlite3") as journal, journal.read() as conn:
        assert conn.execute("SELECT count(*) FROM register_change").fetchone() == (1,)


def test_a_file_that_is_no_table_is_refused(typed: Typed, tmp_path: Path) -> None:
    assert "cannot be read: no such file" in typed.refused("import", tmp_path / "nowhere.csv")
    picture = tmp_path / "picture.csv"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n")
    assert "is not UTF-8 text" in typed.refused("import", picture)
    assert "cannot be written" in typed.refused("export", tmp_path / "nowhere" / "x.csv")
