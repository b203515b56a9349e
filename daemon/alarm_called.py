"""Reads what alarms are called: their names for people, by their keys. Raises JournalError."""

import sqlite3
from collections.abc import Collection

from config.places import Places
from config.site import Site
from daemon.alarm_names import OF_A_CLUTCH, AlarmNames, key_of_occurrence
from daemon.alarms.metrics import Metrics
from daemon.clutches import register
from daemon.contacts import names_by_contact


def names_of(conn: sqlite3.Connection, site: Site, places: Places, keys: Collection[str]) -> dict[str, str]:
    """Name these alarms; clutches are read only where one of them is about a clutch."""
    labels: dict[int, str] = {}
    if any(key.partition(":")[2].startswith(OF_A_CLUTCH) for key in keys):
        labels = {each.clutch_id: each.label for each in register.clutches(conn, include_closed=True)}
    names = AlarmNames(site, places, names_by_contact(site), labels)
    return {key: names.of(key) for key in keys}


def names_in(conn: sqlite3.Connection, site: Site, places: Places, metrics: Metrics) -> dict[str, str]:
    """Name every alarm that measures speak of."""
    causes = metrics.diagnosis
    keys = {*(key for key, _ in causes.most_frequent), *causes.chattering, *causes.stale}
    return names_of(conn, site, places, keys | set(map(key_of_occurrence, causes.fleeting)))
