"""Whether name, password and code are right: slow for every name alike, and slower after each wrong one."""

import sqlite3
from dataclasses import dataclass, replace

from daemon.access import hashing, passwords, second_factor
from daemon.access.addresses import grouped
from daemon.access.values import Refused
from daemon.access.waiting import MOST_TRIES, Tries, one_more, wait_words
from daemon.access_ground import BUSY, UNKNOWN_NAME, Ground
from daemon.storage import accounts, sessions
from daemon.storage.accounts import NOBODY, STRANGERS, Kept

WRONG = "Name or password is wrong."
WRONG_CODE = "The code is wrong, or was used before. Wait for the next one of your authenticator program."
CODE_NEEDED = "Give the six digits that your authenticator program shows now."
USED_UP = (
    f"{MOST_TRIES} wrong passwords in a row: none is looked at any more. Ask a keeper for an invitation, or make one on"
    " the machine itself with: clutchwarden access invite"
)
REFUSED = "sign-in refused"


@dataclass(frozen=True, slots=True)
class Passed:
    """An account whose password and code were right. `step`: of the code; `new_hash`: where the old one is outdated."""

    account: Kept
    step: int | None = None
    new_hash: str | None = None


@dataclass(frozen=True, slots=True)
class _Looked:
    """What is on record for a name: None where nobody can sign in with it."""

    account: Kept | None
    origin: str
    tries: Tries


class PasswordCheck:
    """Checks for one site. Safe to use from any thread. Raises JournalError where the journal does not answer."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground

    def check(
        self, name: str, password: str, code: str | None, address: str, *, is_signed_in: bool = False
    ) -> Passed | Refused:
        """Give the account, or why not. `code` None: the second factor is not asked for here.

        Who is signed in waits for their own tries alone, and not for others' in the same house.
        """
        refused = None if is_signed_in else self._ground.refused_by_address(address)
        if refused is not None:
            return refused
        with self._ground.turn() as has_turn:
            return self._check(name, password, code, address) if has_turn else BUSY

    def _check(self, name: str, password: str, code: str | None, address: str) -> Passed | Refused:
        looked = self._look(name, address)
        refused = self._wait(looked)
        if refused is not None:
            self._ground.note_refusal(_about(looked), address, REFUSED, "too soon after wrong passwords")
            return refused
        account = looked.account
        given = passwords.as_kept(password)
        # What is longer than any password that was taken costs no more than one.
        fitting = len(given) <= passwords.MOST
        kept = account.password_hash if account is not None and fitting else None
        if not hashing.is_right(kept, given[: passwords.MOST]) or account is None:
            return self._failed(name, looked, address, Refused(WRONG, field="password"), "wrong password")
        step = None
        if account.factor_secret is not None and code is not None:
            if not code.strip():
                return Refused(CODE_NEEDED, field="code")
            now_ms = self._ground.now_ms()
            step = second_factor.matching_step(account.factor_secret, code, now_ms, account.factor_step)
            if step is None:
                return self._failed(name, looked, address, Refused(WRONG_CODE, field="code"), "wrong code")
        outdated = hashing.is_outdated(account.password_hash or "")
        return Passed(account, step, hashing.hash_password(given) if outdated else None)

    def _look(self, name: str, address: str) -> _Looked:
        now_ms = self._ground.now_ms()
        with self._ground.journal.read() as conn:
            account = accounts.find(conn, name)
            if account is None or not account.is_open:
                return _Looked(None, STRANGERS, self._ground.unknown_tries(name))
            here = grouped(address)
            known = {grouped(each) for each in sessions.addresses(conn, account.account_id, now_ms)}
            # NIST SP 800-63B section 5.2.2 names this, so that strangers cannot lock the owner out.
            origin = here if here in known else STRANGERS
            return _Looked(account, origin, accounts.tries(conn, account.account_id, origin))

    def _wait(self, looked: _Looked) -> Refused | None:
        if looked.tries.are_used_up:
            return Refused(USED_UP)
        left_s = looked.tries.left_ms(self._ground.now_ms()) / 1000
        if not left_s:
            return None
        return Refused(f"Too many wrong passwords for this name. Try again in {wait_words(left_s)}.", left_s)

    def _failed(self, name: str, looked: _Looked, address: str, refused: Refused, why: str) -> Refused:
        ground = self._ground
        now_ms = ground.now_ms()
        number = NOBODY if looked.account is None else looked.account.account_id
        tries = ground.unknown_failed(name) if looked.account is None else one_more(looked.tries, now_ms)
        ground.failed_from(address)
        ground.journal.write(lambda conn: accounts.set_tries(conn, number, looked.origin, tries))
        ground.note_refusal(_about(looked), address, REFUSED, why)
        if tries.are_used_up:
            return Refused(USED_UP)
        left_s = tries.wait_ms / 1000
        if not left_s:
            return refused
        return replace(refused, reason=f"{refused.reason} Try again in {wait_words(left_s)}.", wait_s=left_s)


def settle(conn: sqlite3.Connection, passed: Passed, changed: Refused) -> Kept | Refused:
    """Write down that somebody passed, with what follows.

    Gives `changed` where the account has changed meanwhile. A code counts once (ASVS 6.5.1) also for two who give it at
    the same moment.
    """
    account, before = accounts.by_number(conn, passed.account.account_id), passed.account
    if account is None or not account.is_open or account.password_hash != before.password_hash:
        return changed
    if account.factor_secret != before.factor_secret:
        return changed
    used = account.factor_step
    if passed.step is not None and used is not None and used != before.factor_step and used >= passed.step:
        return Refused(WRONG_CODE, field="code")
    if passed.new_hash is not None:
        accounts.set_password(conn, account.account_id, passed.new_hash)
    if passed.step is not None:
        accounts.set_factor(conn, account.account_id, account.factor_secret, passed.step)
    accounts.forget_tries(conn, account.account_id)
    return account


def _about(looked: _Looked) -> str:
    return UNKNOWN_NAME if looked.account is None else looked.account.name
