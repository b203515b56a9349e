"""The rounds that hold warnings back at a moment, and those that are due, for the pages."""

import sqlite3
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from config.site import Site
from daemon.alarm_board_values import RoundNow
from daemon.alarms.round_suppression import Round, is_overdue
from daemon.clutches.values import Clutch
from daemon.round_seen import seen_by_incubator
from daemon.rounds.last import RoundDue, rounds_due
from daemon.standing.last_seen import round_due_ms
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


class DueBy(NamedTuple):
    """When something is due, UTC ms: rounds by the id of the incubator, and each clutch by its number."""

    rounds_ms: dict[str, int]
    clutches_ms: dict[int, int]


def due_by(
    conn: sqlite3.Connection,
    site: Site,
    lying: Sequence[Clutch],
    now_ms: int,
    ending: Mapping[int, int] | None = None,
) -> DueBy:
    """Give when the next round through each incubator with eggs is due, and when each open clutch there is.

    `ending`: see `seen_by_incubator`.
    """
    every_days = site.care.round_every_days
    found = seen_by_incubator(conn, site, lying, now_ms, ending)
    rounds_ms = {each: due_ms for each, seen in found.items() if (due_ms := round_due_ms(seen, every_days)) is not None}
    return DueBy(rounds_ms, {one.clutch_id: one.due_ms(every_days) for seen in found.values() for one in seen})


def rounds_due_now(conn: sqlite3.Connection, site: Site, lying: Sequence[Clutch], now_ms: int) -> tuple[RoundDue, ...]:
    """Give the incubators in which a round is due by now and none goes on. `lying` are the open clutches."""
    going_on = {each.round.incubator for each in rounds.all_going_on(conn)}
    names = {incubator.id: incubator.name for incubator in site.incubators}
    return rounds_due(due_by(conn, site, lying, now_ms).rounds_ms, names, going_on, now_ms)


def _is_going_on(round_: Round, now_ms: int) -> bool:
    return round_.ended_ms is None or round_.told_again_ms > now_ms
