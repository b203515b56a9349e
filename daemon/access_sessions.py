"""Signing in and out: sessions of browsers, the password given again, changed, and the second factor."""

import sqlite3
from contextlib import suppress
from dataclasses import replace

from daemon.access import hashing, passwords, second_factor
from daemon.access.devices import device_words
from daemon.access.session_life import CONFIRMED_FOR_MS, is_alive, is_to_be_seen
from daemon.access.values import Refused, Session, SignedIn, Visitor
from daemon.access_check import WRONG, Passed, PasswordCheck, settle
from daemon.access_ground import BUSY, KEEPERS_ONLY, SIGNED_OUT, Ground, is_keeper, who_of
from daemon.storage import accounts, audit, sessions
from daemon.storage.accounts import Kept
from daemon.storage.audit import Change
from daemon.storage.journal import JournalClosedError
from daemon.storage.sessions import Found

CONFIRM_FIRST = Refused("Give your password again first.", field="confirm")


class SessionDesk:
    """Sessions of one site. Safe to use from any thread. Raises JournalError where the journal does not answer."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground
        self._passwords = PasswordCheck(ground)

    def visitor(self, token: str, address: str) -> Visitor | None:
        """Who a token belongs to; None where nobody is signed in with it any more."""
        now_ms = self._ground.now_ms()
        found = self._find(token)
        if found is None:
            return None
        if is_to_be_seen(found.seen_ms, now_ms):
            # Nobody waits for this: a page is shown also where nothing can be written.
            with suppress(JournalClosedError):
                self._ground.journal.submit(lambda conn: sessions.seen(conn, found.number, address, now_ms))
        return _visitor(found, token)

    def sign_in(self, name: str, password: str, code: str, address: str, device: str) -> SignedIn | Refused:
        """Begin a session."""
        passed = self._passwords.check(name, password, code, address)
        if isinstance(passed, Refused):
            return passed

        def begin(conn: sqlite3.Connection) -> SignedIn | Refused:
            account = settle(conn, passed, Refused(WRONG, field="password"))
            return account if isinstance(account, Refused) else self.begin(conn, account, address, device, "sign-in")

        return self._ground.journal.write(begin)

    def begin(self, conn: sqlite3.Connection, account: Kept, address: str, device: str, what: str) -> SignedIn:
        """Begin a session of an account whose owner has shown who they are."""
        now_ms, token, device = self._ground.now_ms(), hashing.draw_token(), device_words(device)
        number, until_ms = sessions.begin(conn, account.account_id, hashing.digest(token), address, device, now_ms)
        new = {"session": number, "device": device, "role": account.role}
        audit.record(conn, Change(account.name, address, what, account.name, new=new), now_ms)
        visitor = Visitor(account.name, account.role, hashing.guard_of(token), number, now_ms)
        return SignedIn(token, visitor, until_ms)

    def confirm(self, token: str, password: str, code: str, address: str) -> SignedIn | Refused:
        """Take the password again, and give the session another token."""
        passed = self._again(token, password, code, address)
        if isinstance(passed, Refused):
            return passed

        def renew(conn: sqlite3.Connection) -> SignedIn | Refused:
            account = settle(conn, passed, SIGNED_OUT)
            return account if isinstance(account, Refused) else self._renew(conn, token, address, "password confirmed")

        return self._ground.journal.write(renew)

    def sign_out(self, token: str) -> None:
        """End the session of a token; nothing where there is none."""
        now_ms = self._ground.now_ms()

        def end(conn: sqlite3.Connection) -> None:
            found = sessions.find(conn, hashing.digest(token))
            if found is not None and sessions.end(conn, found.number, now_ms):
                change = Change(found.account, found.address, "sign-out", found.account, {"session": found.number})
                audit.record(conn, change, now_ms)

        self._ground.journal.write(end)

    def change_password(self, token: str, old: str, new: str, address: str) -> SignedIn | Refused:
        """Take another password. All other sessions of the account end, and this one gets another token."""
        found = self._find(token)
        if found is None:
            return SIGNED_OUT
        with self._ground.journal.read() as conn:
            account = accounts.by_number(conn, found.account_id)
        has_second = account is not None and account.factor_secret is not None
        wrong = passwords.mistake_in(new, self._ground.context(found.account), has_second_factor=has_second)
        if wrong is None and passwords.as_kept(old) == passwords.as_kept(new):
            wrong = Refused("This is the password that you have. Take another one.")
        if wrong is not None:
            return replace(wrong, field="new")
        passed = self._again(token, old, None, address)
        if isinstance(passed, Refused):
            return replace(passed, field="old") if passed.field else passed
        with self._ground.turn() as has_turn:
            if not has_turn:
                return BUSY
            kept = hashing.hash_password(passwords.as_kept(new))

        def change(conn: sqlite3.Connection) -> SignedIn | Refused:
            session = sessions.find(conn, hashing.digest(token))
            account = SIGNED_OUT if session is None else settle(conn, passed, SIGNED_OUT)
            if isinstance(account, Refused):
                return account
            accounts.set_password(conn, account.account_id, kept)
            sessions.end_all(conn, account.account_id, self._ground.now_ms(), but=found.number)
            # No code was asked for: where there is a second factor, this is not enough for what needs both.
            return self._renew(conn, token, address, "password changed", confirms=account.factor_secret is None)

        return self._ground.journal.write(change)

    def finish_second_factor(self, token: str, secret: str, code: str, address: str) -> Refused | None:
        """Keep a second factor whose code is right; asked for at every sign-in from then on."""
        now_ms = self._ground.now_ms()
        found = self._find(token)
        if found is None:
            return SIGNED_OUT
        if not _visitor(found, token).has_confirmed(now_ms, CONFIRMED_FOR_MS):
            return CONFIRM_FIRST
        if not second_factor.is_secret(secret):
            return Refused("This is not a secret that was shown here. Begin again.", field="secret")
        step = second_factor.matching_step(secret, code, now_ms, None)
        if step is None:
            reason = "The code does not fit. Look whether the clock of your phone is right, and give the next one."
            return Refused(reason, field="code")

        def keep(conn: sqlite3.Connection) -> None:
            accounts.set_factor(conn, found.account_id, secret, step)
            audit.record(conn, Change(found.account, address, "second factor on", found.account), now_ms)

        self._ground.journal.write(keep)
        return None

    def drop_second_factor(self, token: str, password: str, address: str) -> Refused | None:
        """Do without the second factor from now on. Its code has to have been given a short while ago."""
        now_ms = self._ground.now_ms()
        found = self._find(token)
        if found is not None and not _visitor(found, token).has_confirmed(now_ms, CONFIRMED_FOR_MS):
            return CONFIRM_FIRST
        passed = self._again(token, password, None, address)
        if isinstance(passed, Refused):
            return passed
        if len(passwords.as_kept(password)) < passwords.FEWEST:
            reason = (
                f"Your password has fewer than {passwords.FEWEST} characters, which is enough with a second factor"
                " only. Change the password first."
            )
            return Refused(reason, field="password")

        def drop(conn: sqlite3.Connection) -> Refused | None:
            account = settle(conn, passed, SIGNED_OUT)
            if isinstance(account, Refused):
                return account
            accounts.set_factor(conn, account.account_id, None, None)
            audit.record(conn, Change(account.name, address, "second factor off", account.name), now_ms)
            return None

        return self._ground.journal.write(drop)

    def of_account(self, visitor: Visitor) -> tuple[Session, ...]:
        """The sessions of a visitor's own account that still count."""
        now_ms = self._ground.now_ms()
        with self._ground.journal.read() as conn:
            own = None if visitor.session is None else sessions.account_of(conn, visitor.session)
            alive = () if own is None else sessions.alive(conn, now_ms, own[0])
        return tuple(replace(each, is_this=each.number == visitor.session) for each in alive)

    def of_all(self) -> tuple[Session, ...]:
        """The sessions of everybody that still count."""
        now_ms = self._ground.now_ms()
        with self._ground.journal.read() as conn:
            return sessions.alive(conn, now_ms)

    def end_own(self, visitor: Visitor, number: int) -> bool:
        """End a session of the visitor's own account; False where it is none of theirs, or had ended."""
        return self._ground.journal.write(lambda conn: self._end_own(conn, visitor, number))

    def _end_own(self, conn: sqlite3.Connection, visitor: Visitor, number: int) -> bool:
        own = None if visitor.session is None else sessions.account_of(conn, visitor.session)
        other = sessions.account_of(conn, number)
        if own is None or other is None or own[0] != other[0]:
            return False
        return self._end(conn, number, other[1], visitor.who, own[2])

    def end_any(self, by: Visitor | None, number: int, address: str) -> Refused | None:
        """End a session of anybody."""
        if not is_keeper(by):
            return KEEPERS_ONLY

        def end(conn: sqlite3.Connection) -> Refused | None:
            other = sessions.account_of(conn, number)
            if other is None or not self._end(conn, number, other[1], who_of(by), address):
                return Refused(f"There is no session {number}, or it has ended.")
            return None

        return self._ground.journal.write(end)

    def _end(self, conn: sqlite3.Connection, number: int, account: str, who: str, address: str) -> bool:
        now_ms = self._ground.now_ms()
        if not sessions.end(conn, number, now_ms):
            return False
        audit.record(conn, Change(who, address, "session ended", account, {"session": number}), now_ms)
        return True

    def end_others(self, visitor: Visitor) -> int:
        """End all sessions of the visitor's account but this one, and give how many those were."""
        now_ms = self._ground.now_ms()

        def end(conn: sqlite3.Connection) -> int:
            own = None if visitor.session is None else sessions.account_of(conn, visitor.session)
            if own is None:
                return 0
            count = sessions.end_all(conn, own[0], now_ms, but=visitor.session)
            if count:
                change = Change(visitor.who, own[2], "other sessions ended", own[1], {"sessions": count})
                audit.record(conn, change, now_ms)
            return count

        return self._ground.journal.write(end)

    def _find(self, token: str) -> Found | None:
        now_ms, kept = self._ground.now_ms(), hashing.digest(token)
        with self._ground.journal.read() as conn:
            found = sessions.find(conn, kept)
        return found if found is not None and is_alive(found.seen_ms, found.until_ms, now_ms) else None

    def _again(self, token: str, password: str, code: str | None, address: str) -> Passed | Refused:
        found = self._find(token)
        if found is None:
            return SIGNED_OUT
        checked = self._passwords.check(found.account, password, code, address, is_signed_in=True)
        if isinstance(checked, Refused) and checked.reason.startswith(WRONG):
            # The name is known here.
            return replace(checked, reason=checked.reason.replace(WRONG, "The password is wrong.", 1))
        return checked

    def _renew(
        self, conn: sqlite3.Connection, token: str, address: str, what: str, *, confirms: bool = True
    ) -> SignedIn | Refused:
        found = sessions.find(conn, hashing.digest(token))
        if found is None:
            return SIGNED_OUT
        now_ms, new = self._ground.now_ms(), hashing.draw_token()
        confirmed_ms = now_ms if confirms else found.confirmed_ms
        sessions.renew(conn, found.number, hashing.digest(new), confirmed_ms, now_ms)
        audit.record(conn, Change(found.account, address, what, found.account), now_ms)
        return SignedIn(new, replace(_visitor(found, new), confirmed_ms=confirmed_ms), found.until_ms)


def _visitor(found: Found, token: str) -> Visitor:
    return Visitor(found.account, found.role, hashing.guard_of(token), found.number, found.confirmed_ms)
