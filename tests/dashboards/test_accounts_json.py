"""Accounts and changes for the programs of keepers: the same as on their pages, and no secret."""

import json

import pytest

from daemon.access.values import Role
from daemon.storage import audit
from daemon.storage.audit import HOST, Change
from tests.dashboards.asking import ask
from tests.support.accounts import PASSWORD
from tests.support.called import CalledHouse
from tests.support.guarded import GuardedHouse

ACCOUNTS, CHANGES = "/api/set-up/accounts", "/api/set-up/audit"


@pytest.fixture
def guarded(house: CalledHouse) -> GuardedHouse:
    return GuardedHouse(house)


def key(guarded: GuardedHouse, role: Role) -> str:
    made = guarded.desk.add_key(None, f"program-{role}", role, HOST)
    assert isinstance(made, str)
    return made


def test_a_keepers_program_reads_accounts_and_keys_without_any_secret(guarded: GuardedHouse) -> None:
    signed_in, secret = guarded.account("ana"), key(guarded, Role.KEEPER)
    code = guarded.code("rosa", Role.RESPONDER)
    answer = ask(guarded.app, ACCOUNTS, headers={"Authorization": f"Bearer {secret}", "Host": "127.0.0.1"})
    assert answer.status_code == 200
    found = answer.json()
    roles = {each["name"]: (each["role"], each["has_password"], each["closed_ms"]) for each in found["accounts"]}
    assert roles == {"ana": ("keeper", True, None), "rosa": ("responder", False, None)}
    assert [(each["name"], each["role"]) for each in found["keys"]] == [("program-keeper", "keeper")]
    for hidden in (secret, code, PASSWORD, signed_in.token, "argon2", "hash"):
        assert hidden not in answer.text


@pytest.mark.parametrize("role", [Role.VIEWER, Role.RESPONDER])
@pytest.mark.parametrize("path", [ACCOUNTS, CHANGES])
def test_nobody_below_a_keeper_reads_them(guarded: GuardedHouse, role: Role, path: str) -> None:
    headers = {"Authorization": f"Bearer {key(guarded, role)}", "Host": "127.0.0.1"}
    assert ask(guarded.app, path, headers=headers).status_code == 403
    guarded.account("ana")
    person = guarded.browser("ben", role)
    assert person.get(path, Accept="application/json").status_code == 403
    assert ask(guarded.app, path, headers={"Host": "127.0.0.1"}).status_code == 401


def test_changes_come_by_pages_newest_first_and_of_one_thing(guarded: GuardedHouse) -> None:
    keeper, journal = guarded.browser("ana"), guarded.house.journal
    for number in range(7):
        change = Change("ana", "192.0.2.7", "site", f"thing-{number % 2}", {"n": number}, {"n": number + 1}, "because")
        journal.write(lambda conn, change=change: audit.record(conn, change, guarded.now_ms))  # type: ignore[misc]
    seen: list[int] = []
    path: str | None = f"{CHANGES}?limit=3"
    while path is not None:
        page = keeper.get(path).json()
        assert len(page["changes"]) <= 3
        seen += [each["number"] for each in page["changes"]]
        path = page["next"]
    assert seen == [each.event_id for each in guarded.audited()]
    odd = keeper.get(f"{CHANGES}?about=thing-1").json()["changes"]
    assert [(each["about"], each["old"], each["new"], each["why"]) for each in odd] == [
        ("thing-1", {"n": number}, {"n": number + 1}, "because") for number in (5, 3, 1)
    ]
    assert PASSWORD not in json.dumps(page)
