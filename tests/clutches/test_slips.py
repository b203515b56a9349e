"""Slips of the keyboard that a form, a command or a table can hold: refused in words, never by a traceback."""

import sqlite3
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from daemon.clutches import closing, egg_changes, register
from daemon.clutches.closing import Closing
from daemon.clutches.egg_rules import egg_called, stated_as
from daemon.clutches.eggs import Egg
from daemon.clutches.errors import At, RegisterError
from daemon.clutches.rows import by_number, with_label
from daemon.clutches.sheet_cells import day_end_of, moment_of, whole_of
from daemon.clutches.values import Clutch
from daemon.commands.clutch_text import value_words
from tests.clutches.house import DAY_MS, NEW, NOW, counts, enter, now, refused

NEW_YORK, TOKYO = ZoneInfo("America/New_York"), ZoneInfo("Asia/Tokyo")


def test_a_clutch_cannot_be_closed_with_eggs_that_are_still_there(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    for state in ("watch", "pipped", "sound"):
        how = Closing(NOW, rest=stated_as(state))
        said = refused(conn, lambda how=how: closing.close(conn, clutch, how, "kim", NOW))  # type: ignore[misc]
        assert "still there" in said
    found = by_number(conn, clutch)
    assert found is not None
    assert (found.is_open, counts(conn, clutch).open) == (True, 9)


@pytest.mark.parametrize(
    "read",
    [
        lambda: whole_of("1" * 5000, "egg_count"),
        lambda: egg_called("Juniper", [Egg(1)], "1" * 5000),
        lambda: moment_of("9999-12-31 23:00", "at", NEW_YORK),
        lambda: moment_of("0001-01-01 00:00", "at", TOKYO),
        lambda: day_end_of("9999-12-31", "laid_to", NEW_YORK),
    ],
)
def test_what_no_number_and_no_calendar_holds_is_refused(read: Callable[[], object]) -> None:
    with pytest.raises(RegisterError) as caught:
        read()
    assert caught.value.hint


def test_a_moment_beyond_the_calendar_can_be_told_in_every_zone() -> None:
    """14 hours behind UTC it is 9999, and in UTC 10000, which no calendar of the machine has."""
    far_ms = moment_of("9999-12-31T23:59:59-14:00", "at", TOKYO)
    for zone in (TOKYO, NEW_YORK):
        assert "after the year 9999" in str(RegisterError(("laid at ", At(far_ms)), "Check.").told_in(zone))
    early_ms = moment_of("0001-01-01T00:00:00+00:00", "at", TOKYO)
    assert "before the year 1" in str(RegisterError(("laid at ", At(early_ms)), "Check.").told_in(NEW_YORK))


def test_a_clutch_of_a_year_that_no_page_could_write_is_refused_also_with_its_end(conn: sqlite3.Connection) -> None:
    early_ms = moment_of("0001-01-01T00:00:00+00:00", "at", TOKYO)
    old = replace(NEW, laid_from_ms=early_ms, laid_to_ms=early_ms, from_ms=early_ms)
    end_ms = early_ms + 60 * DAY_MS
    refused(conn, lambda: register.add_clutch(conn, old, "kim", NOW, closed_at_ms=end_ms))


def test_marks_change_places_in_any_order(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    egg_changes.mark_eggs(conn, clutch, {"1": "A", "2": "B"}, NOW, "kim", NOW)
    before = egg_changes.mark_eggs(conn, clutch, {"1": "B", "2": "A"}, NOW, "kim", NOW)
    assert [egg.mark for egg in before] == ["A", "B"]
    assert list(now(conn, clutch))[:3] == ["B", "A", "3"]
    refused(conn, lambda: egg_changes.mark_eggs(conn, clutch, {"3": "C", "4": "C"}, NOW, "kim", NOW))
    refused(conn, lambda: egg_changes.mark_eggs(conn, clutch, {"A": "C", "2": "D"}, NOW, "kim", NOW))


@pytest.mark.parametrize("mark", ["3x", "12X", "a:b"])
def test_a_mark_that_means_something_else_where_eggs_are_typed_is_refused(conn: sqlite3.Connection, mark: str) -> None:
    clutch = enter(conn)
    assert "3x" in refused(conn, lambda: egg_changes.mark_egg(conn, clutch, "1", mark, NOW, "kim", NOW))


def test_a_label_is_found_however_its_accent_is_stored(conn: sqlite3.Connection) -> None:
    """ü as one character, or as a u and two dots: on a screen they are the same (Unicode, UAX 15)."""
    clutch = enter(conn, "Brüder-1")
    for form in ("NFC", "NFD"):
        found: list[Clutch] = with_label(conn, unicodedata.normalize(form, "BRÜDER-1"))
        assert [each.clutch_id for each in found] == [clutch]


def test_temperatures_are_told_in_the_unit_of_the_site(conn: sqlite3.Connection) -> None:
    """By hand: 93.3 °C are 199.9 °F, 0 and 45 °C are 32 and 113 °F, 26.6 °C are 79.9 °F; a width of 2 K is 3.6 °F."""
    said = refused(conn, lambda: register.add_clutch(conn, replace(NEW, before_c=93.3), "kim", NOW))
    assert "199.9 °F" in said
    assert "32.0 °F to 113.0 °F" in said
    assert value_words(26.6, "before_c", NEW_YORK, fahrenheit=True) == "79.9 °F"
    assert value_words(2.0, "before_u_k", NEW_YORK, fahrenheit=True) == "3.6 °F"
    assert value_words(26.666666, "before_c", NEW_YORK, fahrenheit=False) == "26.7 °C"
