"""Keys of programs: what shows the pages' data to a program that cannot sign in."""

import sqlite3
from contextlib import suppress

from daemon.access import hashing
from daemon.access.names import mistake_in_name
from daemon.access.session_life import is_to_be_seen
from daemon.access.values import ProgramKey, Refused, Role, Visitor
from daemon.access_ground import KEEPERS_ONLY, Ground, is_keeper, who_of
from daemon.storage import accounts, audit, program_keys
from daemon.storage.audit import Change
from daemon.storage.journal import JournalClosedError

_MARK = "cwk_"
"""How every key begins, so that one that lies where it should not is known for what it is."""


class KeyDesk:
    """Keys of one site. Safe to use from any thread. Raises JournalError where the journal does not answer."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground

    def visitor(self, key: str) -> Visitor | None:
        """Who a key belongs to; None where it is unknown or withdrawn."""
        now_ms, kept = self._ground.now_ms(), hashing.digest(key)
        with self._ground.journal.read() as conn:
            found = program_keys.find(conn, kept)
        if found is None:
            return None
        if found.seen_ms is None or is_to_be_seen(found.seen_ms, now_ms):
            name = found.name
            with suppress(JournalClosedError):
                self._ground.journal.submit(lambda conn: program_keys.seen(conn, name, now_ms))
        return Visitor(found.name, found.role)

    def in_use(self) -> tuple[ProgramKey, ...]:
        """The keys that are in use, by name."""
        with self._ground.journal.read() as conn:
            return program_keys.in_use(conn)

    def add(self, by: Visitor | None, name: str, role: Role, address: str) -> str | Refused:
        """Make a key and give it, this once."""
        refused = mistake_in_name(name) if is_keeper(by) else KEEPERS_ONLY
        if refused is not None:
            return refused
        now_ms, key = self._ground.now_ms(), _MARK + hashing.draw_token()

        def make(conn: sqlite3.Connection) -> str | Refused:
            used = {each.name.lower() for each in program_keys.in_use(conn)}
            if name.lower() in used | self._ground.people or accounts.find(conn, name) is not None:
                reason = f'"{name}" is the name of a person, an account or another key. Take another name.'
                return Refused(reason, field="name")
            program_keys.add(conn, hashing.digest(key), name, role, who_of(by), now_ms)
            audit.record(conn, Change(who_of(by), address, "key made", name, new={"role": role}), now_ms)
            return key

        return self._ground.journal.write(make)

    def withdraw(self, by: Visitor | None, name: str, address: str) -> Refused | None:
        """End a key: the program that has it is kept out from now on."""
        if not is_keeper(by):
            return KEEPERS_ONLY
        now_ms = self._ground.now_ms()

        def end(conn: sqlite3.Connection) -> Refused | None:
            found = program_keys.withdraw(conn, name, now_ms)
            if found is None:
                return Refused(f'There is no key "{name}" in use.', field="name")
            change = Change(who_of(by), address, "key withdrawn", found.name, old={"role": found.role})
            audit.record(conn, change, now_ms)
            return None

        return self._ground.journal.write(end)
