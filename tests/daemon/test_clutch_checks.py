"""When the eggs of each clutch are looked at next, by the rounds and the register of a real journal."""

from daemon.clutch_record import ClutchRecords
from daemon.clutches import register
from daemon.clutches.register import NewClutch
from daemon.storage import rounds
from tests.daemon.kept import BOX, START_MS, Kept
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch


def due_ms(kept: Kept, now_ms: int) -> dict[int, int | None]:
    told = ClutchRecords(kept.journal, kept.site, kept.profiles, 1800).told(now_ms)
    return {number: each.next_check_ms for number, each in told.items()}


def enter(kept: Kept, clutch: NewClutch) -> int:
    return kept.journal.write(lambda conn: register.add_clutch(conn, clutch, "test", clutch.from_ms))


def test_before_any_round_it_counts_from_the_eggs_and_then_from_the_last_round(kept: Kept) -> None:
    every_ms = round(kept.site.care.round_every_days * DAY_MS)
    first = enter(kept, a_clutch(START_MS))
    assert due_ms(kept, START_MS + DAY_MS) == {first: START_MS + every_ms}
    ended_ms = START_MS + 5 * DAY_MS

    kept.journal.write(lambda conn: rounds.start(conn, "north", "ana", ended_ms - 10 * MINUTE_MS, 30 * MINUTE_MS))
    kept.journal.write(lambda conn: rounds.end(conn, "north", "ana", "", ended_ms))
    # A clutch that came the day after is seen with the others of its incubator; the other incubator had no round.
    second = enter(kept, a_clutch(ended_ms + DAY_MS, "Second", "north/upper"))
    other = enter(kept, a_clutch(ended_ms + DAY_MS, "Other", BOX))
    found = due_ms(kept, ended_ms + 2 * DAY_MS)
    assert found == {first: ended_ms + every_ms, second: ended_ms + every_ms, other: ended_ms + DAY_MS + every_ms}


def test_a_clutch_that_is_not_set_up_yet_has_no_check_and_all_its_eggs(kept: Kept) -> None:
    number = enter(kept, a_clutch(START_MS + DAY_MS))
    told = ClutchRecords(kept.journal, kept.site, kept.profiles, 1800).told(START_MS)[number]
    assert told.next_check_ms is None
    assert told.eggs is not None
    assert (told.eggs.total, told.eggs.sound) == (8, 8)
