"""What is said of eggs is taken where it can be true, refused with the reason where not, and never lost."""

import json
import sqlite3
import time

import pytest

from daemon.clutches import egg_changes, register
from daemon.clutches.egg_records import egg_counts, events
from daemon.clutches.egg_rules import follows, stated_as
from daemon.clutches.eggs import EggCounts, EggState, Reason, Stated
from tests.clutches.house import LAID, N2, NOW, SHELF, counts, day, enter, now, refused, say

SOUND, WATCH, PIPPED, HATCHED = (Stated(EggState(word)) for word in ("sound", "watch", "pipped", "hatched"))
GIVEN = Stated(EggState.GIVEN_AWAY)
MOULD, STUCK, OTHER = (Stated(EggState.REMOVED, Reason(word), "x") for word in ("mould", "stuck", "other"))


def test_eggs_begin_sound_and_are_numbered_from_one(conn: sqlite3.Connection) -> None:
    clutch = enter(conn, egg_count=3)
    assert now(conn, clutch) == {"1": "sound", "2": "sound", "3": "sound"}


# Project choice, in words of the trade: what is gone is gone, a dead egg left in place may be taken out later.
@pytest.mark.parametrize(
    ("before", "possible"),
    [
        (SOUND, {"sound", "watch", "removed", "pipped", "hatched", "given-away"}),
        (WATCH, {"sound", "watch", "removed", "pipped", "hatched", "given-away"}),
        (PIPPED, {"pipped", "removed", "hatched", "given-away"}),
        (STUCK, {"removed"}),
        (MOULD, set()),
        (HATCHED, set()),
        (GIVEN, set()),
    ],
)
def test_what_may_follow_what(before: Stated, possible: set[str]) -> None:
    assert {
        after.state for after in (SOUND, WATCH, PIPPED, HATCHED, GIVEN, MOULD) if follows(before, after)
    } == possible


def test_a_dead_egg_left_in_place_counts_as_lost_and_is_still_inside(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    say(conn, clutch, "removed:stuck", ["4"], day(20))
    found = counts(conn, clutch)
    assert (found.lost, found.left_in_place, found.inside, found.open) == (1, 1, 9, 8)
    say(conn, clutch, "removed:collapsed", ["4"], day(30))
    found = counts(conn, clutch)
    assert (found.lost, found.left_in_place, found.inside) == (1, 0, 8)


def test_the_counts_of_all_clutches_agree_with_those_of_each(conn: sqlite3.Connection) -> None:
    first, second = enter(conn), enter(conn, "Bracken", N2, 5)
    say(conn, first, "watch", ["1", "2"], day(10))
    taken_back, _ = say(conn, first, "hatched", ["3", "4"], day(50))
    say(conn, first, "sound", ["2"], day(20))
    say(conn, first, "removed:stuck", ["5"], day(12))
    egg_changes.withdraw_event(conn, first, taken_back, "kim", "looked again", NOW)
    say(conn, second, "given-away", 2)
    found = egg_counts(conn)
    assert found == {first: counts(conn, first), second: counts(conn, second)}
    assert found[first] == EggCounts(9, sound=6, watch=1, lost=1, hatched=1, left_in_place=1)
    assert found[second] == EggCounts(5, sound=3, given_away=2)


def test_the_counts_of_some_clutches_are_those_of_all_and_cost_what_their_own_eggs_cost(
    conn: sqlite3.Connection,
) -> None:
    """Counted in steps of the database, which are the same on every machine."""

    def steps(of: list[int] | None) -> int:
        count = 0

        def step() -> int:
            nonlocal count
            count += 1
            return 0

        conn.set_progress_handler(step, 1)
        egg_counts(conn, of)
        conn.set_progress_handler(None, 1)
        return count

    first = enter(conn, "First", SHELF, 20)
    taken_back = say(conn, first, "watch", ["1"], day(10))
    egg_changes.withdraw_event(conn, first, taken_back[0], "kim", "looked again", NOW)
    say(conn, first, "hatched", 7)
    alone, all_then = steps([first]), steps(None)
    for number in range(40):
        # What was taken back in other clutches must not be walked through either.
        other = enter(conn, f"C{number}", SHELF, 20)
        events = say(conn, other, "hatched", 20)
        egg_changes.withdraw_event(conn, other, events[0], "kim", "looked again", NOW)
    assert egg_counts(conn, [first]) == {first: egg_counts(conn)[first]}
    assert egg_counts(conn, []) == {}
    assert steps([first]) < 1.1 * alone
    assert steps(None) > 10 * all_then


def test_the_counts_of_sixty_clutches_of_a_hundred_eggs_are_read_in_a_moment(conn: sqlite3.Connection) -> None:
    """Measured about 6 ms for one event an egg and 16 ms for three; the bound is processor time."""
    for number in range(60):
        say(conn, enter(conn, f"C{number}", SHELF, 100), "hatched", 100)
    began = time.process_time()
    found = egg_counts(conn)
    took_s = time.process_time() - began
    assert [each.hatched for each in found.values()] == [100] * 60
    assert took_s < 0.25


@pytest.mark.parametrize(
    ("state", "which", "at_ms", "words"),
    [
        ("removed:mould", 10, NOW, "10 eggs of Juniper cannot be removed: mould: there are only 9"),
        ("removed:mould", 0, NOW, "0 eggs are none"),
        ("hatched", ["1"], LAID - 1, "before it was laid (2026-05-01 00:00 UTC)"),
        ("hatched", ["1"], NOW + 1, "in the future"),
        ("hatched", ["10"], NOW, "has no egg '10'"),
        ("hatched", ["Z"], NOW, "the numbers 1 to 9"),
        ("hatched", [], NOW, "no egg is named"),
        ("sound", ["1"], NOW, "egg 1 of Juniper is sound already"),
    ],
)
def test_what_cannot_be_said_of_eggs(
    conn: sqlite3.Connection, state: str, which: list[str] | int, at_ms: int, words: str
) -> None:
    clutch = enter(conn)
    assert words in refused(conn, lambda: say(conn, clutch, state, which, at_ms))


@pytest.mark.parametrize(
    ("text", "note", "words"),
    [
        ("dead", "", "nothing that an egg can be"),
        ("removed", "", "an egg is removed for a reason"),
        ("removed:mold", "", 'Did you mean "mould"?'),
        ("removed:other", " ", "Say it in the note"),
        ("hatched:mould", "", "has no reason"),
    ],
)
def test_what_is_typed_wrongly_is_told_with_the_right_way(text: str, note: str, words: str) -> None:
    with pytest.raises(register.RegisterError) as caught:
        stated_as(text, note)
    assert words in str(caught.value)


def test_an_egg_that_hatched_is_not_sound_again_unless_that_is_taken_back(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    (event,) = say(conn, clutch, "hatched", ["1"], day(50))
    told = refused(conn, lambda: say(conn, clutch, "sound", ["1"]))
    assert "it is hatched since 2026-06-20 00:00 UTC" in told
    assert f"event {event}" in told
    egg_changes.withdraw_event(conn, clutch, event, "ida", "another box", NOW)
    assert now(conn, clutch)["1"] == "sound"
    assert [(one.number, one.withdrawn) for one in events(conn, clutch)] == [(event, True)]
    assert "taken back already" in refused(
        conn, lambda: egg_changes.withdraw_event(conn, clutch, event, "ida", "", NOW)
    )
    say(conn, clutch, "watch", ["1"])


def test_what_is_said_late_must_fit_what_was_said_of_later_days(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    say(conn, clutch, "watch", ["1"], day(20))
    assert "it is on watch later" in refused(conn, lambda: say(conn, clutch, "removed:mould", ["1"], day(10)))
    say(conn, clutch, "sound", ["1"], day(30))
    say(conn, clutch, "hatched", ["2"], day(50))
    say(conn, clutch, "watch", ["2"], day(10))
    assert now(conn, clutch)["1"] == "sound"
    assert now(conn, clutch)["2"] == "hatched"


def test_eggs_that_nobody_named_are_the_highest_sound_ones_without_a_mark(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    egg_changes.mark_egg(conn, clutch, "9", "A", NOW, "kim", NOW)
    say(conn, clutch, "watch", ["8"], day(10))
    say(conn, clutch, "removed:mould", 2, day(20))
    assert [name for name, state in now(conn, clutch).items() if "mould" in state] == ["6", "7"]
    # Then the one on watch; the marked one is never taken.
    say(conn, clutch, "removed:mould", 6, day(21))
    assert {name: state for name, state in now(conn, clutch).items() if "mould" not in state} == {"A": "sound"}


def test_marked_eggs_are_asked_for_by_name_where_the_others_do_not_suffice(conn: sqlite3.Connection) -> None:
    clutch = enter(conn, egg_count=3)
    egg_changes.mark_egg(conn, clutch, "3", "A", NOW, "kim", NOW)
    egg_changes.mark_egg(conn, clutch, "2", "B", NOW, "kim", NOW)
    assert "Say which of the marked ones: B, A." in refused(conn, lambda: say(conn, clutch, "hatched", 2))
    say(conn, clutch, "hatched", 3)
    assert counts(conn, clutch).hatched == 3


def test_of_those_that_hatched_the_pipped_ones_come_first(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    say(conn, clutch, "pipped", ["2", "3"], day(50))
    say(conn, clutch, "hatched", 3, day(51))
    assert [name for name, state in now(conn, clutch).items() if state == "hatched"] == ["2", "3", "9"]


def test_which_egg_it_was_can_be_said_later(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    (event,) = say(conn, clutch, "removed:mould", 1, day(20), "grey")
    said = egg_changes.say_which(conn, clutch, event, "2", "ida", NOW)
    assert {name: state for name, state in now(conn, clutch).items() if state != "sound"} == {"2": "removed: mould"}
    [new] = [one for one in events(conn, clutch) if not one.withdrawn]
    assert (new.number, new.at_ms, new.stated.note, new.by_count) == (said.events[0], day(20), "grey", False)
    assert "about egg 2 already" in refused(
        conn, lambda: egg_changes.say_which(conn, clutch, new.number, "2", "ida", NOW)
    )


def test_marks_are_unique_and_find_their_egg(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    egg_changes.mark_egg(conn, clutch, "1", "A", NOW, "kim", NOW)
    egg_changes.mark_egg(conn, clutch, "2", "101", NOW, "kim", NOW)
    for wrong in ("a", "3", "x" * 13, "a,b", "a b"):
        refused(conn, lambda mark=wrong: egg_changes.mark_egg(conn, clutch, "4", mark, NOW, "kim", NOW))  # type: ignore[misc]
    say(conn, clutch, "watch", ["a", "101"])
    assert [name for name, state in now(conn, clutch).items() if state == "on watch"] == ["A", "101"]
    egg_changes.mark_egg(conn, clutch, "A", "", NOW, "kim", NOW)
    egg_changes.mark_egg(conn, clutch, "4", "A", NOW, "kim", NOW)
    assert list(now(conn, clutch))[:4] == ["1", "101", "3", "A"]


def test_every_word_on_eggs_is_kept_with_who_and_when_and_only_grows(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    say(conn, clutch, "removed:mould", ["2", "5"], day(20))
    what, who, old, new = conn.execute(
        "SELECT what, who, old, new FROM register_change ORDER BY change_id DESC"
    ).fetchone()
    assert (what, who, json.loads(old)) == ("eggs", "kim", {"2": "sound", "5": "sound"})
    assert json.loads(new)["eggs"] == ["2", "5"]
    for statement in ("UPDATE egg_event SET egg = 1", "DELETE FROM egg_event"):
        with pytest.raises(sqlite3.IntegrityError, match="never changed or removed"):
            conn.execute(statement)


def test_eggs_change_neither_heat_nor_limits_and_so_not_the_version_of_the_register(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    before, last = register.version(conn), register.last_change(conn)
    say(conn, clutch, "watch", ["1"])
    assert register.version(conn) == before
    assert register.last_change(conn) > last
