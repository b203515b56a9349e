"""The page of all accounts and of the keys of programs. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.access.values import Account, ProgramKey, Refused, Role
from daemon.access.waiting import MOST_TRIES
from dashboards import figures
from dashboards.access.account_view import MAY
from dashboards.access.policy import ACCOUNTS_PATH, WELCOME_PATH
from dashboards.access.typed import Field, FormView, answered

INVITE_PATH, ROLE_PATH, CLOSE_PATH = (f"{ACCOUNTS_PATH}/{each}" for each in ("invite", "role", "close"))
KEY_PATH, WITHDRAW_PATH = f"{ACCOUNTS_PATH}/keys", f"{ACCOUNTS_PATH}/keys/withdraw"
_ROLES = tuple((role.value, f"{role}: {MAY[role]}") for role in Role)
_SHORT_ROLES = tuple((role.value, role.value) for role in Role)


@dataclass(frozen=True, slots=True)
class AccountRow:
    """One account; `role` is the form that changes its role, None where it is closed."""

    key: str
    name: str
    lines: tuple[str, ...]
    role: FormView | None


@dataclass(frozen=True, slots=True)
class KeyRow:
    """One key of a program."""

    name: str
    line: str


@dataclass(frozen=True, slots=True)
class Once:
    """A secret that is shown this once, with what to do with it."""

    heading: str
    secret: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AccountsView:
    """The whole page. `said` is why what was sent was refused, where it belongs to no field."""

    accounts: tuple[AccountRow, ...]
    closed: tuple[AccountRow, ...]
    keys: tuple[KeyRow, ...]
    invite: FormView
    key: FormView
    once: Once | None = None
    said: str = ""


@dataclass(frozen=True, slots=True)
class Sent:
    """What was sent to this page and refused: to which path, what was typed, and why not."""

    path: str
    typed: Mapping[str, str]
    refused: Refused


def accounts_view(
    accounts: Sequence[Account],
    keys: Sequence[ProgramKey],
    now_ms: int,
    zone: ZoneInfo,
    sent: Sent | None = None,
    once: Once | None = None,
    people: Sequence[tuple[str, str]] = (),
) -> AccountsView:
    """Everything on the page. `people`: ids and names of those of the site."""
    rows = [(each, _account_row(each, now_ms, zone, number)) for number, each in enumerate(accounts)]
    name = Field("name", "Name", hint=_whose(people), options=tuple(people))
    role = Field("role", "Role", "select", options=_ROLES, value=Role.VIEWER)
    invite = FormView("invite", INVITE_PATH, (name, role), "Make an invitation")
    program = Field("name", "What the program is", hint="One word, such as dashboard.")
    key = FormView("key", KEY_PATH, (program, role), "Make a key")
    invite, key = (_as_sent(each, sent) for each in (invite, key))
    told = bool(sent and (sent.path in (INVITE_PATH, KEY_PATH)))
    return AccountsView(
        accounts=tuple(row for each, row in rows if each.closed_ms is None),
        closed=tuple(row for each, row in rows if each.closed_ms is not None),
        keys=tuple(_key_row(each, now_ms, zone) for each in keys),
        invite=invite,
        key=key,
        once=once,
        said="" if sent is None or told else sent.refused.reason,
    )


def invitation(name: str, code: str, until_ms: int, now_ms: int, zone: ZoneInfo, public_url: str | None) -> Once:
    """Say what to do with the code of an invitation. `public_url`: how a phone reaches these pages."""
    until = figures.clock_text(figures.local(until_ms, zone), figures.local(now_ms, zone))
    where = f"{public_url}{WELCOME_PATH}" if public_url else "these pages, choose “I have an invitation”"
    lines = (
        f"Good once, until {until}. It is not shown again.",
        f"They open {where}, and type it there, with the name {name} and a password of their own.",
        "Tell it or write it down; do not send it together with the address of these pages.",
    )
    return Once(f"Invitation of {name}", code, lines)


def program_key(name: str, key: str) -> Once:
    """Say what to do with a new key."""
    lines = ("It is not shown again.", "The program sends it with every request, as: Authorization: Bearer KEY")
    return Once(f"Key of {name}", key, lines)


def _whose(people: Sequence[tuple[str, str]]) -> str:
    named = ", ".join(f"{each} for {name}" for each, name in people)
    return f"Of the site there are: {named}. For others a short name without spaces." if named else "Without spaces."


def _as_sent(form: FormView, sent: Sent | None) -> FormView:
    return form if sent is None or sent.path != form.action else answered(form, sent.typed, sent.refused)


def _account_row(account: Account, now_ms: int, zone: ZoneInfo, number: int) -> AccountRow:
    today = figures.local(now_ms, zone)
    made = figures.clock_text(figures.local(account.created_ms, zone), today)
    lines = [f"{account.role[:1].upper()}{account.role[1:]}. Made {made} by {account.created_by}."]
    if account.closed_ms is not None:
        lines.append(f"Closed {figures.clock_text(figures.local(account.closed_ms, zone), today)}.")
    elif not account.has_password:
        lines.append("Invited; has not signed in yet.")
    else:
        lines.append("Has a second factor." if account.has_second_factor else "No second factor.")
    if account.failures >= MOST_TRIES:
        lines.append(
            f"{account.failures} wrong passwords in a row from places where {account.name} was not signed in lately:"
            f" none is looked at from there any more. A new invitation for {account.name} ends this."
        )
    elif account.wait_until_ms > now_ms:
        until = figures.clock_text(figures.local(account.wait_until_ms, zone), today)
        lines.append(f"{account.failures} wrong passwords in a row; none is looked at before {until}.")
    role = Field("role", f"Role of {account.name}", "select", options=_SHORT_ROLES, value=account.role)
    form = FormView(f"role-{number}", ROLE_PATH, (role,), "Change role", (("name", account.name),))
    return AccountRow(f"account-{number}", account.name, tuple(lines), None if account.closed_ms is not None else form)


def _key_row(key: ProgramKey, now_ms: int, zone: ZoneInfo) -> KeyRow:
    today = figures.local(now_ms, zone)
    made = figures.clock_text(figures.local(key.made_ms, zone), today)
    if key.seen_ms is None:
        used = "Never used."
    else:
        used = f"Last used {figures.clock_text(figures.local(key.seen_ms, zone), today)}."
    return KeyRow(key.name, f"{key.role[:1].upper()}{key.role[1:]}. Made {made} by {key.made_by}. {used}")
