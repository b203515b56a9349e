"""Who has an account: invitations and the first code, roles, closing. The last keeper stays."""

import sqlite3

from daemon.access import hashing, passwords
from daemon.access.codes import FIRST_FOR_MS, INVITED_FOR_MS, as_drawn, draw_code
from daemon.access.names import mistake_in_name
from daemon.access.values import Account, Refused, Role, SignedIn, Visitor
from daemon.access_ending import end_what_they_made
from daemon.access_ground import BUSY, KEEPERS_ONLY, Ground, is_keeper, who_of
from daemon.access_sessions import SessionDesk
from daemon.storage import accounts, audit, invitations, program_keys, sessions
from daemon.storage.accounts import Kept
from daemon.storage.audit import Change
from daemon.storage.invitations import Invitation

BAD_CODE = Refused(
    "This code is not good: it was used, its time is over, or a sign is mistyped. Whoever gave it to you can make a new"
    " one; on the machine itself: clutchwarden access first, or clutchwarden access invite.",
    field="code",
)
NOT_FIRST = Refused("There is a keeper already. Make an invitation with: clutchwarden access invite NAME --role keeper")
LAST_KEEPER = Refused("This is the last keeper, and somebody has to be. Make another account a keeper first.")
FIRST = "the first account"

Invited = tuple[str, int]
"""A code to hand over, shown once, and until when it is good (UTC ms)."""


class AccountsDesk:
    """Accounts of one site. Safe to use from any thread. Raises JournalError where the journal does not answer."""

    def __init__(self, ground: Ground, session_desk: SessionDesk) -> None:
        self._ground = ground
        self._sessions = session_desk

    def all(self) -> tuple[Account, ...]:
        """All accounts by name, the closed ones too."""
        with self._ground.journal.read() as conn:
            return accounts.shown(conn)

    def needs_first(self) -> bool:
        """True as long as no keeper can sign in."""
        with self._ground.journal.read() as conn:
            return _needs_first(conn)

    def first_code(self, by: Visitor | None, address: str) -> Invited | Refused:
        """Make the code that makes the first keeper; one made before is good no more."""
        now_ms, code = self._ground.now_ms(), draw_code()
        until_ms = now_ms + FIRST_FOR_MS

        def make(conn: sqlite3.Connection) -> Invited | Refused:
            if not _needs_first(conn):
                return NOT_FIRST
            invitations.add(conn, hashing.digest(as_drawn(code)), None, who_of(by), now_ms, until_ms)
            change = Change(who_of(by), address, "first code made", FIRST, new={"until_ms": until_ms})
            audit.record(conn, change, now_ms)
            return code, until_ms

        return self._ground.journal.write(make)

    def invite(self, by: Visitor | None, name: str, role: Role, address: str) -> Invited | Refused:
        """Make a code with which somebody gets an account, or a new password where they have one.

        The role counts for an account that nobody can sign in with yet; another's stays as it is.
        """
        refused = mistake_in_name(name) if is_keeper(by) else KEEPERS_ONLY
        if refused is not None:
            return refused
        now_ms, code = self._ground.now_ms(), draw_code()
        until_ms = now_ms + INVITED_FOR_MS

        def make(conn: sqlite3.Connection) -> Invited | Refused:
            if _is_key(conn, name):
                return _taken(name)
            account = _ready(conn, name, role, who_of(by), now_ms)
            invitations.add(conn, hashing.digest(as_drawn(code)), account.account_id, who_of(by), now_ms, until_ms)
            new = {"role": account.role, "until_ms": until_ms}
            audit.record(conn, Change(who_of(by), address, "invited", account.name, new=new), now_ms)
            return code, until_ms

        return self._ground.journal.write(make)

    def accept(self, code: str, name: str, password: str, address: str, device: str) -> SignedIn | Refused:
        """Take an invitation or the first code: the password is kept, and its owner is signed in."""
        refused = self._ground.refused_by_address(address)
        if refused is not None:
            return refused
        code_hash = hashing.digest(as_drawn(code))
        with self._ground.journal.read() as conn:
            refused, account_name = _meant(conn, code_hash, name, self._ground.now_ms())
        if refused is BAD_CODE:
            self._ground.failed_from(address)
            self._ground.note_refusal("an invitation", address, "code refused", "unknown, used or too old")
        refused = refused or passwords.mistake_in(password, self._ground.context(account_name))
        if refused is not None:
            return refused
        with self._ground.turn() as has_turn:
            if not has_turn:
                return BUSY
            kept = hashing.hash_password(passwords.as_kept(password))

        def open_account(conn: sqlite3.Connection) -> SignedIn | Refused:
            return self._open(conn, code_hash, name, kept, address, device)

        return self._ground.journal.write(open_account)

    def _open(
        self, conn: sqlite3.Connection, code_hash: str, name: str, kept: str, address: str, device: str
    ) -> SignedIn | Refused:
        """Everything is asked once more: somebody may have used the same code a moment ago."""
        now_ms = self._ground.now_ms()
        refused, account_name = _meant(conn, code_hash, name, now_ms)
        found = invitations.find(conn, code_hash, now_ms)
        if refused is not None or found is None:
            return refused or BAD_CODE
        account = _for_first(conn, account_name, now_ms) if found.account_id is None else _of(conn, found)
        number = account.account_id
        was_open = account.is_open
        invitations.use(conn, found.number, now_ms)
        invitations.withdraw(conn, number, now_ms)
        accounts.set_password(conn, number, kept)
        # An invitation stands for having met the person (ASVS 6.4.4), so it also helps who has lost the second factor.
        accounts.set_factor(conn, number, None, None)
        accounts.forget_tries(conn, number)
        sessions.end_all(conn, number, now_ms)
        what = "password renewed by invitation" if was_open else "account opened"
        return self._sessions.begin(conn, account, address, device, what)

    def set_role(self, by: Visitor | None, name: str, role: Role, address: str) -> Refused | None:
        """Let an account do more or less, from its next page on. What it made that may do more ends."""
        if not is_keeper(by):
            return KEEPERS_ONLY
        now_ms = self._ground.now_ms()

        def change(conn: sqlite3.Connection) -> Refused | None:
            account = accounts.find(conn, name)
            if account is None or account.closed_ms is not None:
                return _unknown(name)
            if account.role is role:
                return None
            if account.role is Role.KEEPER and _is_last(conn, account):
                return LAST_KEEPER
            accounts.set_role(conn, account.account_id, role)
            made = end_what_they_made(conn, account.name, role, now_ms)
            old, new = {"role": account.role}, {"role": role, **made}
            audit.record(conn, Change(who_of(by), address, "role changed", account.name, old, new), now_ms)
            return None

        return self._ground.journal.write(change)

    def close(self, by: Visitor | None, name: str, address: str) -> Refused | None:
        """Keep somebody out from now on: sessions end, and what they made that lets others in.

        What they did stays on record.
        """
        if not is_keeper(by):
            return KEEPERS_ONLY
        now_ms = self._ground.now_ms()

        def shut(conn: sqlite3.Connection) -> Refused | None:
            account = accounts.find(conn, name)
            if account is None or account.closed_ms is not None:
                return _unknown(name)
            if account.role is Role.KEEPER and _is_last(conn, account):
                return LAST_KEEPER
            accounts.close(conn, account.account_id, now_ms)
            invitations.withdraw(conn, account.account_id, now_ms)
            ended = sessions.end_all(conn, account.account_id, now_ms)
            made = end_what_they_made(conn, account.name, None, now_ms)
            old, new = {"role": account.role}, {"sessions ended": ended, **made}
            audit.record(conn, Change(who_of(by), address, "account closed", account.name, old, new), now_ms)
            return None

        return self._ground.journal.write(shut)


def _needs_first(conn: sqlite3.Connection) -> bool:
    return accounts.other_keepers(conn, accounts.NOBODY) == 0


def _is_last(conn: sqlite3.Connection, account: Kept) -> bool:
    return account.is_open and accounts.other_keepers(conn, account.account_id) == 0


def _unknown(name: str) -> Refused:
    return Refused(f'There is no account "{name}", or it is closed.', field="name")


def _taken(name: str) -> Refused:
    return Refused(f'"{name}" is the name of a key or of another account. Take another name.', field="name")


def _is_key(conn: sqlite3.Connection, name: str) -> bool:
    return any(key.name.lower() == name.lower() for key in program_keys.in_use(conn))


def _ready(conn: sqlite3.Connection, name: str, role: Role, by: str, now_ms: int) -> Kept:
    """The account that somebody is invited to, made or opened again where it has to be."""
    account = accounts.find(conn, name)
    if account is None:
        return _by_number(conn, accounts.add(conn, name, role, by, now_ms))
    if account.closed_ms is not None:
        accounts.open_again(conn, account.account_id)
    if not account.is_open:
        accounts.set_role(conn, account.account_id, role)
    return _by_number(conn, account.account_id)


def _of(conn: sqlite3.Connection, found: Invitation) -> Kept:
    return _by_number(conn, found.account_id or accounts.NOBODY)


def _by_number(conn: sqlite3.Connection, number: int) -> Kept:
    account = accounts.by_number(conn, number)
    if account is None:
        raise AssertionError("no row of accounts is ever removed")
    return account


def _meant(conn: sqlite3.Connection, code_hash: str, name: str, now_ms: int) -> tuple[Refused | None, str]:
    """Why a code is not taken, and the name of the account that it is for."""
    found = invitations.find(conn, code_hash, now_ms)
    if found is None:
        return BAD_CODE, ""
    if found.account_id is None:
        return _refused_first(conn, name), name
    account = _of(conn, found)
    if name and name.lower() != account.name.lower():
        reason = f'This invitation is for the name "{account.name}". Write that, or leave the name empty.'
        return Refused(reason, field="name"), account.name
    return None, account.name


def _refused_first(conn: sqlite3.Connection, name: str) -> Refused | None:
    if not _needs_first(conn):
        return BAD_CODE
    account = accounts.find(conn, name)
    if _is_key(conn, name) or (account is not None and account.is_open):
        return _taken(name)
    return mistake_in_name(name)


def _for_first(conn: sqlite3.Connection, name: str, now_ms: int) -> Kept:
    return _ready(conn, name, Role.KEEPER, name, now_ms)
