"""Accounts and keys of programs, and who changed what, as JSON for keepers. Pure; no secret is in any of it."""

from collections.abc import Sequence
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from daemon.access.values import Account, ProgramKey, Role
from daemon.storage.audit import AuditEvent
from dashboards.paging import PageJson


class _Json(BaseModel):
    model_config = ConfigDict(frozen=True)


class AccountJson(_Json):
    """Somebody who can sign in.

    `has_password` is false from the invitation until it is used. `wrong_passwords`: in a row, and none is looked at
    before `wait_until_ms`. `closed_ms` is null where the account is open.
    """

    name: str
    role: Role
    created_ms: int
    created_by: str
    has_password: bool
    has_second_factor: bool
    wrong_passwords: int
    wait_until_ms: int | None
    closed_ms: int | None


class KeyJson(_Json):
    """The key of a program, without the key itself. `seen_ms`: when it was last used; null: never."""

    name: str
    role: Role
    made_ms: int
    made_by: str
    seen_ms: int | None


class AccountsJson(_Json):
    """All accounts, also those that were closed, and all keys that count."""

    now_ms: int
    accounts: list[AccountJson]
    keys: list[KeyJson]


class ChangeJson(_Json):
    """One change. `old` and `new`: what it was before and after, by names that depend on what was changed."""

    number: int
    at_ms: int
    who: str
    from_where: str
    what: str
    about: str
    why: str
    old: dict[str, Any] = Field(description="What stood there before; empty where nothing did.")
    new: dict[str, Any] = Field(description="What stands there now; empty where nothing does.")


class ChangesJson(PageJson):
    """A page of changes, the newest first."""

    changes: list[ChangeJson]


def accounts_json(accounts: Sequence[Account], keys: Sequence[ProgramKey], now_ms: int) -> AccountsJson:
    """Give them their JSON form."""
    return AccountsJson(now_ms=now_ms, accounts=[_account(each) for each in accounts], keys=[_key(one) for one in keys])


def changes_json(shown: Sequence[AuditEvent], next_page: str | None) -> ChangesJson:
    """Give a page of changes."""
    return ChangesJson(changes=[_change(each) for each in shown], next=next_page)


def _account(account: Account) -> AccountJson:
    return AccountJson(
        name=account.name,
        role=account.role,
        created_ms=account.created_ms,
        created_by=account.created_by,
        has_password=account.has_password,
        has_second_factor=account.has_second_factor,
        wrong_passwords=account.failures,
        wait_until_ms=account.wait_until_ms or None,
        closed_ms=account.closed_ms,
    )


def _key(key: ProgramKey) -> KeyJson:
    return KeyJson(name=key.name, role=key.role, made_ms=key.made_ms, made_by=key.made_by, seen_ms=key.seen_ms)


def _change(event: AuditEvent) -> ChangeJson:
    change = event.change
    return ChangeJson(
        number=event.event_id,
        at_ms=event.at_ms,
        who=change.who,
        from_where=change.from_where,
        what=change.what,
        about=change.about,
        why=change.why,
        old=dict(change.old),
        new=dict(change.new),
    )
