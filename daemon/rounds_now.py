"""The rounds that hold warnings back at a moment, and those that are due, for the pages."""

import sqlite3
from collections.abc import Sequence

from config.site import Site
from daemon.alarm_board_values import RoundNow
from daemon.alarms.round_suppression import Round, is_overdue
from daemon.clutches.values import Clutch
from daemon.rounds.last import RoundDue, rounds_due
from daemon.standing import care
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


def rounds_due_ms(conn: sqlite3.Connection, site: Site, lying: Sequence[Clutch], now_ms: int) -> dict[str, int]:
    """Give when the next round through each incubator with eggs is due."""
    last_ms = rounds.last_ended_ms(conn)
    return {
        one.id: care.next_round_ms(last_ms.get(one.id), since_ms, site.care.round_every_days)
        for one in site.incubators
        if (since_ms := care.eggs_since_ms(lying, one.id, now_ms)) is not None
    }


def rounds_due_now(conn: sqlite3.Connection, site: Site, lying: Sequence[Clutch], now_ms: int) -> tuple[RoundDue, ...]:
    """Give the incubators in which a round is due by now and none goes on. `lying` are the open clutches."""
    going_on = {each.round.incubator for each in rounds.all_going_on(conn)}
    names = {incubator.id: incubator.name for incubator in site.incubators}
    return rounds_due(rounds_due_ms(conn, site, lying, now_ms), names, going_on, now_ms)


def _is_going_on(round_: Round, now_ms: int) -> bool:
    return round_.ended_ms is None or round_.told_again_ms > now_ms
