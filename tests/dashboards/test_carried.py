"""A form that is sent after the session, or the password's quarter of an hour, ran out: nothing typed is lost."""

import re
from html import unescape
from urllib.parse import parse_qsl, urlencode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.access.values import Role
from dashboards.access.carried import MOST_BYTES, carried, carried_in
from tests.support.accounts import PASSWORD
from tests.support.called import CalledHouse
from tests.support.guarded import GuardedHouse

LATE_MS = 16 * 60_000
MARKUP = '<b>Ana & "Bo"</b>'


@pytest.fixture
def guarded(house: CalledHouse) -> GuardedHouse:
    return GuardedHouse(house)


def fields_of(page: str) -> dict[str, str]:
    """The hidden fields of the one form of a page."""
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', page)
    return {unescape(name): unescape(value) for name, value in found}


def test_what_was_typed_goes_on_through_the_password(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    guarded.now_ms += LATE_MS
    late = keeper.post("/set-up/accounts/invite", {"name": "rosa", "role": "responder"})
    assert late.status_code == 403
    assert "Nothing was done yet" in late.text
    assert [each.name for each in guarded.desk.accounts()] == ["ana"]
    wrong = keeper.post("/sign-in/confirm", {**fields_of(late.text), "password": "wrong"})
    assert wrong.status_code == 422
    ready = keeper.post("/sign-in/confirm", {**fields_of(wrong.text), "password": PASSWORD})
    assert "rosa" in ready.text
    assert 'action="/set-up/accounts/invite"' in ready.text
    sent = fields_of(ready.text)
    assert keeper.post("/set-up/accounts/invite", sent).status_code == 200
    assert [each.name for each in guarded.desk.accounts()] == ["ana", "rosa"]


def test_a_form_without_the_guard_of_the_session_is_not_carried(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    guarded.now_ms += LATE_MS
    answer = keeper.post("/set-up/accounts/invite", {"name": "rosa", "role": "keeper", "guard": "forged"})
    assert answer.status_code == 303


def test_what_somebody_typed_after_their_session_ended_is_carried_through_sign_in(guarded: GuardedHouse) -> None:
    guarded.account("ana")
    guarded.account("rosa", Role.RESPONDER)
    nobody = guarded.browser()
    late = nobody.post("/people", {"act": "absence", "why": MARKUP})
    assert late.status_code == 403
    assert MARKUP not in late.text
    ready = nobody.post("/sign-in", {**fields_of(late.text), "name": "rosa", "password": PASSWORD})
    assert ready.status_code == 200
    sent = fields_of(ready.text)
    assert (sent["act"], sent["why"]) == ("absence", MARKUP)
    assert sent["guard"]
    assert MARKUP not in ready.text


def test_nothing_secret_is_carried_and_all_else_is() -> None:
    body = urlencode({"guard": "g", "name": "Ana", "address": "https://t0ken.example", "password": "p", "code": ""})
    found, guard = carried("/set-up/people", body.encode())
    assert found is not None
    assert (found.fields, found.again, guard) == ((("name", "Ana"),), ("address", "password"), "g")
    assert "t0ken" not in repr(found)
    again = carried_in(dict(found.hidden))
    assert again == found


def test_what_is_too_long_or_nothing_is_not_carried() -> None:
    assert carried("/x", b"a=" + b"x" * MOST_BYTES)[0] is None
    assert carried("/x", b"guard=g&password=p")[0] is None
    assert carried("/x", b"")[0] is None


@pytest.mark.parametrize("path", ["https://evil.example", "//evil.example/x", "/\\evil.example"])
def test_it_is_never_sent_to_another_site(path: str) -> None:
    found = carried_in({"kept": "a=b", "kept_to": path})
    assert found is not None
    assert found.path == "/"


@given(st.lists(st.tuples(st.text(st.characters(codec="utf-8"), min_size=1), st.text(st.characters(codec="utf-8")))))
def test_every_field_arrives_as_it_was_typed(fields: list[tuple[str, str]]) -> None:
    fields = [("x-" + name, value) for name, value in fields]
    body = urlencode(fields)
    found, _ = carried("/x", body.encode())
    if not fields or len(body) > MOST_BYTES:
        assert found is None
        return
    assert found is not None
    assert list(found.fields) == parse_qsl(body, keep_blank_values=True) == fields
    assert carried_in(dict(found.hidden)) == found
