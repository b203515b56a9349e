"""The rounds that hold warnings back at a moment, for the pages."""

import sqlite3

from config.site import Site
from daemon.alarm_board_values import RoundNow
from daemon.alarms.round_suppression import Round, is_overdue
from daemon.storage import rounds


def rounds_now(conn: sqlite3.Connection, site: Site, now_ms: int) -> tuple[RoundNow, ...]:
    """Give each round that nobody has ended, and those that ended so lately that they hold something back yet."""
    names = {incubator.id: incubator.name for incubator in site.incubators}
    people = {person.id: person.name for person in site.people}
    return tuple(
        RoundNow(
            names.get(each.incubator, each.incubator),
            people.get(each.who, each.who),
            each.told_again_ms,
            each.ended_ms is not None,
            is_overdue(each, now_ms),
        )
        for each in rounds.not_settled(conn, now_ms)
        if _is_going_on(each, now_ms)
    )


def _is_going_on(round_: Round, now_ms: int) -> bool:
    return round_.ended_ms is None or round_.told_again_ms > now_ms
