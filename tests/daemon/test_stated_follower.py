"""What a keeper changes with an editor goes on record at the next start, with what stood there before and no secret."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.site_desk import Changed
from daemon.stated_follower import BY_HAND, FIRST, GONE, follow_stated
from daemon.storage.audit import AuditEvent, Change
from daemon.storage.journal import Journal
from tests.daemon.site_desked import NOW_MS, TOKEN, Desked
from tests.support.journals import new_journal


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


@pytest.fixture
def desked(tmp_path: Path, journal: Journal) -> Desked:
    return Desked(tmp_path / "site", journal)


def _follow(desked: Desked) -> list[Change]:
    """Give what is new on record after a look, the oldest first."""
    before = {event.event_id for event in desked.record()}
    follow_stated(desked.journal, desked.folder, NOW_MS)
    new: list[AuditEvent] = [event for event in desked.record() if event.event_id not in before]
    return [event.change for event in reversed(new)]


def test_at_the_first_start_each_file_is_on_record_as_it_stands(desked: Desked) -> None:
    first = _follow(desked)
    assert {change.what for change in first} == {FIRST}
    assert {"site.toml", "settings.toml", "built-in species"} == {change.about for change in first}
    site = next(change for change in first if change.about == "site.toml")
    assert "north-air" in site.new["text"]
    assert TOKEN not in repr(first)
    assert _follow(desked) == []


def test_a_limit_changed_with_an_editor_is_on_record_with_old_and_new(desked: Desked) -> None:
    _follow(desked)
    path = desked.folder / "site.toml"
    path.write_text(desked.text.replace("interval_s = 60", "interval_s = 75"), encoding="utf-8")
    [change] = _follow(desked)
    assert (change.who, change.from_where, change.what, change.about) == ("unknown", "host", BY_HAND, "site.toml")
    assert "interval_s = 60" in change.old["text"]
    assert "interval_s = 75" in change.new["text"]
    assert change.new["saved_ms"] == path.stat().st_mtime_ns // 1_000_000
    assert TOKEN not in repr(change)
    assert _follow(desked) == []


def test_an_address_changed_with_an_editor_is_told_and_not_shown(desked: Desked) -> None:
    _follow(desked)
    (desked.folder / "site.toml").write_text(desked.text.replace(TOKEN, "OTHER-0815"), encoding="utf-8")
    [change] = _follow(desked)
    assert (change.what, change.about, change.old) == (BY_HAND, "site.toml", {})
    assert "address" in change.new["changed"]
    assert "OTHER-0815" not in repr(change)


def test_a_password_changed_in_a_file_of_its_own_is_told_and_not_shown(desked: Desked) -> None:
    settings = desked.folder / "settings.toml"
    settings.write_text('[broker]\nusername = "clutch"\npassword_file = "word"\n', encoding="utf-8")
    (desked.folder / "word").write_text("first-word", encoding="utf-8")
    _follow(desked)
    (desked.folder / "word").write_text("second-word", encoding="utf-8")
    [change] = _follow(desked)
    assert (change.about, change.old) == ("settings.toml", {})
    settings.write_text('[broker]\nusername = "clutch"\npassword = "third-word"\n', encoding="utf-8")
    [change] = _follow(desked)
    assert "-word" not in repr(change)
    assert "password_file" in change.old["text"]


def test_a_variable_that_overrules_a_setting_is_told_without_its_value(
    desked: Desked, monkeypatch: pytest.MonkeyPatch
) -> None:
    _follow(desked)
    monkeypatch.setenv("CLUTCHWARDEN_BROKER__PASSWORD", "first-word")
    [came] = _follow(desked)
    monkeypatch.setenv("CLUTCHWARDEN_BROKER__PASSWORD", "second-word")
    [changed] = _follow(desked)
    monkeypatch.delenv("CLUTCHWARDEN_BROKER__PASSWORD")
    [gone] = _follow(desked)
    assert [each.what for each in (came, changed, gone)] == [FIRST, BY_HAND, GONE]
    assert {each.about for each in (came, changed, gone)} == {"environment"}
    assert "BROKER__PASSWORD" in came.new["text"]
    assert "-word" not in repr((came, changed, gone))


def test_a_species_file_that_comes_changes_and_goes_is_told_each_time(desked: Desked) -> None:
    _follow(desked)
    folder = desked.folder / "profiles"
    folder.mkdir(exist_ok=True)
    own = folder / "own.toml"
    own.write_text("high_c = 33\n", encoding="utf-8")
    own_name = "profiles/own.toml"
    [came] = _follow(desked)
    own.write_text("high_c = 34\n", encoding="utf-8")
    [changed] = _follow(desked)
    own.unlink()
    [gone] = _follow(desked)
    assert [(each.what, each.about) for each in (came, changed, gone)] == [
        (FIRST, own_name),
        (BY_HAND, own_name),
        (GONE, own_name),
    ]
    assert (changed.old["text"], changed.new["text"]) == ("high_c = 33\n", "high_c = 34\n")
    assert gone.old["text"] == "high_c = 34\n"
    assert _follow(desked) == []


def test_a_change_by_a_page_is_on_record_once_by_who_made_it(desked: Desked) -> None:
    _follow(desked)
    assert isinstance(desked.add(), Changed)
    assert desked.record()[0].change.who == "mara"
    assert _follow(desked) == []


def test_what_was_done_by_hand_before_a_change_by_a_page_is_told_apart(desked: Desked) -> None:
    _follow(desked)
    path = desked.folder / "site.toml"
    path.write_text(desked.text.replace("interval_s = 60", "interval_s = 75"), encoding="utf-8")
    assert isinstance(desked.add(), Changed)
    by_page, by_hand, *_ = [event.change for event in desked.record()]
    assert (by_hand.who, by_page.who) == ("unknown", "mara")
    assert by_hand.new["text"] == by_page.old["text"]
    assert "box-n1" not in by_hand.new["text"]
