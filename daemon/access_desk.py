"""Who may come in, for the pages and for the commands. The rules are in `daemon/access/`, the work in the parts.

Every change, sign-in, refusal and end of a session is in the audit; nothing secret is.
"""

from collections.abc import Callable

from config.site import Site
from daemon.access import second_factor
from daemon.access.values import Account, ProgramKey, Refused, Role, Session, SignedIn, Visitor
from daemon.access_accounts import AccountsDesk, Invited
from daemon.access_ground import Ground
from daemon.access_keys import KeyDesk
from daemon.access_sessions import SessionDesk
from daemon.storage.journal import Journal


class AccessDesk:
    """Accounts, sessions, invitations and keys of one site. Safe to use from any thread.

    `by` is who makes a change, and needs to be a keeper; None is the program itself. `address` is where a request comes
    from, or `audit.HOST` for a command. `Refused.field` names what to mend: name, password, old, new, code, secret, or
    `confirm` for the password that has to be given again. Every method raises JournalError where the journal does not
    answer.
    """

    def __init__(self, journal: Journal, site: Site, now_ms: Callable[[], int]) -> None:
        self.now_ms = now_ms
        self._site_name = site.name
        self.people = tuple((each.id, each.name) for each in site.people)
        """Ids and names of the people of the site, whose accounts have their ids."""
        ground = Ground(journal, site, now_ms)
        self._sessions = SessionDesk(ground)
        self._accounts = AccountsDesk(ground, self._sessions)
        self._keys = KeyDesk(ground)

    # Coming in

    def visitor(self, token: str, address: str) -> Visitor | None:
        """Who a cookie belongs to; None where nobody is signed in with it (any more)."""
        return self._sessions.visitor(token, address)

    def visitor_of_key(self, key: str) -> Visitor | None:
        """Who a program's key belongs to; None where it is unknown or withdrawn."""
        return self._keys.visitor(key)

    def sign_in(self, name: str, password: str, code: str, address: str, device: str) -> SignedIn | Refused:
        """Begin a session. `code`: of the second factor, or empty; refused with the field `code` where it is needed."""
        return self._sessions.sign_in(name, password, code, address, device)

    def confirm(self, token: str, password: str, code: str, address: str) -> SignedIn | Refused:
        """Take the password again, for what needs it. The cookie gets another token."""
        return self._sessions.confirm(token, password, code, address)

    def sign_out(self, token: str) -> None:
        """End the session of a cookie."""
        self._sessions.sign_out(token)

    # Accounts

    def needs_first(self) -> bool:
        """True as long as no keeper can sign in."""
        return self._accounts.needs_first()

    def first_code(self, by: Visitor | None, address: str) -> Invited | Refused:
        """Make the code for the first keeper; only while there is none."""
        return self._accounts.first_code(by, address)

    def accept(self, code: str, name: str, password: str, address: str, device: str) -> SignedIn | Refused:
        """Take an invitation or the first code. An invitation knows its name: one that is typed has to be the same."""
        return self._accounts.accept(code, name, password, address, device)

    def accounts(self) -> tuple[Account, ...]:
        """All accounts by name, the closed ones too."""
        return self._accounts.all()

    def invite(self, by: Visitor | None, name: str, role: Role, address: str) -> Invited | Refused:
        """Make an invitation: to a new account, or to a new password for one that is there."""
        return self._accounts.invite(by, name, role, address)

    def set_role(self, by: Visitor | None, name: str, role: Role, address: str) -> Refused | None:
        """Let an account do more or less. None: done."""
        return self._accounts.set_role(by, name, role, address)

    def close(self, by: Visitor | None, name: str, address: str) -> Refused | None:
        """Keep somebody out from now on. None: done."""
        return self._accounts.close(by, name, address)

    def change_password(self, token: str, old: str, new: str, address: str) -> SignedIn | Refused:
        """Take another password. Other sessions end; the cookie gets another token."""
        return self._sessions.change_password(token, old, new, address)

    # Sessions

    def sessions(self, visitor: Visitor) -> tuple[Session, ...]:
        """The visitor's own sessions that still count."""
        return self._sessions.of_account(visitor)

    def all_sessions(self) -> tuple[Session, ...]:
        """The sessions of everybody that still count."""
        return self._sessions.of_all()

    def end_session(self, visitor: Visitor, number: int) -> bool:
        """End one of the visitor's own sessions; False where it is none of theirs, or had ended."""
        return self._sessions.end_own(visitor, number)

    def end_any_session(self, by: Visitor | None, number: int, address: str) -> Refused | None:
        """End a session of anybody. None: done."""
        return self._sessions.end_any(by, number, address)

    def end_other_sessions(self, visitor: Visitor) -> int:
        """End all of the visitor's sessions but this one, and give how many those were."""
        return self._sessions.end_others(visitor)

    # The second factor

    def begin_second_factor(self, visitor: Visitor) -> tuple[str, str]:
        """Draw a secret, and give it with the address for a QR code. Nothing is kept until a code fits."""
        secret = second_factor.draw_secret()
        return secret, second_factor.uri_of(secret, visitor.who, self._site_name)

    def finish_second_factor(self, token: str, secret: str, code: str, address: str) -> Refused | None:
        """Keep the secret where the code fits, and the password was given lately. None: done."""
        return self._sessions.finish_second_factor(token, secret, code, address)

    def drop_second_factor(self, token: str, password: str, address: str) -> Refused | None:
        """Do without. None: done."""
        return self._sessions.drop_second_factor(token, password, address)

    # Programs

    def keys(self) -> tuple[ProgramKey, ...]:
        """The keys that are in use, by name."""
        return self._keys.in_use()

    def add_key(self, by: Visitor | None, name: str, role: Role, address: str) -> str | Refused:
        """Make a key for a program and give it, this once."""
        return self._keys.add(by, name, role, address)

    def withdraw_key(self, by: Visitor | None, name: str, address: str) -> Refused | None:
        """End a key. None: done."""
        return self._keys.withdraw(by, name, address)
