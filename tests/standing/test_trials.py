"""Whether a test that nobody confirmed is told: after a day, with its time, and how many in a row."""

from zoneinfo import ZoneInfo

from config.words import AlarmKind
from daemon.standing.trials import unconfirmed
from tests.support.lettered import local_ms

MADRID = ZoneInfo("Europe/Madrid")
SENT_MS = local_ms("2026-11-29T18:00")
DAY_MS = 86_400_000


def test_it_is_told_from_a_day_on_with_the_time_of_the_test() -> None:
    assert unconfirmed("ana/0", "Ana", [SENT_MS], SENT_MS + DAY_MS - 1, MADRID) is None
    found = unconfirmed("ana/0", "Ana", [SENT_MS], SENT_MS + DAY_MS, MADRID)
    assert found is not None
    assert (found.kind, found.subject, found.about) == (AlarmKind.TEST_UNCONFIRMED, "ana/0", "Ana")
    assert (found.place, found.since_ms) == ("", SENT_MS + DAY_MS)
    assert found.reason == "nobody confirmed the test of 29 Nov 18:00"


def test_several_in_a_row_are_counted_and_the_newest_has_its_day_as_well() -> None:
    sent = [SENT_MS, SENT_MS + 7 * DAY_MS, SENT_MS + 14 * DAY_MS]
    found = unconfirmed("ana/0", "Ana", sent, SENT_MS + 14 * DAY_MS + 1, MADRID)
    assert found is not None
    assert found.reason == "nobody confirmed 2 tests in a row, the first of 29 Nov 18:00"
    assert found.since_ms == SENT_MS + DAY_MS


def test_where_all_are_confirmed_there_is_nothing_to_tell() -> None:
    assert unconfirmed("ana/0", "Ana", [], SENT_MS, MADRID) is None
