"""When the eggs of each clutch are looked at next, by the rounds and the register of a real journal."""

from daemon.clutch_record import ClutchRecords
from daemon.clutches import register
from daemon.clutches.register import NewClutch
from tests.daemon.kept import BOX, START_MS, Kept
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch
from tests.support.rounds_done import a_round


def due_ms(kept: Kept, now_ms: int) -> dict[int, int | None]:
    told = ClutchRecords(kept.journal, kept.site, kept.profiles, 1800).told(now_ms)
    return {number: each.next_check_ms for number, each in told.items()}


def enter(kept: Kept, clutch: NewClutch) -> int:
    return kept.journal.write(lambda conn: register.add_clutch(conn, clutch, "test", clutch.from_ms))


def test_before_any_round_it_counts_from_the_eggs_and_then_from_the_round_in_which_it_was_seen(kept: Kept) -> None:
    every_ms = round(kept.site.care.round_every_days * DAY_MS)
    first = enter(kept, a_clutch(START_MS))
    assert due_ms(kept, START_MS + DAY_MS) == {first: START_MS + every_ms}
    ended_ms = START_MS + 5 * DAY_MS

    kept.journal.write(lambda conn: a_round(conn, "north", ended_ms, [first]))
    # A clutch that came the day after was seen when it came; so was the one of the other incubator.
    second = enter(kept, a_clutch(ended_ms + DAY_MS, "Second", "north/upper"))
    other = enter(kept, a_clutch(ended_ms + DAY_MS, "Other", BOX))
    later_ms = ended_ms + DAY_MS + every_ms
    assert due_ms(kept, ended_ms + 2 * DAY_MS) == {first: ended_ms + every_ms, second: later_ms, other: later_ms}


def test_a_round_in_which_nobody_saw_it_leaves_it_due_as_it_was(kept: Kept) -> None:
    every_ms = round(kept.site.care.round_every_days * DAY_MS)
    first, second = enter(kept, a_clutch(START_MS)), enter(kept, a_clutch(START_MS, "Second", "north/upper"))
    ended_ms, now_ms = START_MS + 58 * DAY_MS, START_MS + 59 * DAY_MS
    kept.journal.write(lambda conn: a_round(conn, "north", ended_ms))
    assert due_ms(kept, now_ms) == dict.fromkeys((first, second), START_MS + every_ms)
    kept.journal.write(lambda conn: a_round(conn, "north", ended_ms + MINUTE_MS * 20, [second]))
    assert due_ms(kept, now_ms) == {first: START_MS + every_ms, second: ended_ms + 20 * MINUTE_MS + every_ms}


def test_a_clutch_that_is_not_set_up_yet_has_no_check_and_all_its_eggs(kept: Kept) -> None:
    number = enter(kept, a_clutch(START_MS + DAY_MS))
    told = ClutchRecords(kept.journal, kept.site, kept.profiles, 1800).told(START_MS)[number]
    assert told.next_check_ms is None
    assert told.eggs is not None
    assert (told.eggs.total, told.eggs.sound) == (8, 8)
