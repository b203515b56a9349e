"""A form that is sent after the session, or the password's quarter of an hour, ran out: nothing typed is lost."""

import re
import zlib
from base64 import urlsafe_b64encode
from html import unescape
from secrets import token_urlsafe
from urllib.parse import parse_qsl, urlencode

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.access.values import Role
from dashboards.access.carried import MOST_BYTES, carried, carried_in
from dashboards.access.late_forms import MOST_HEARD_BYTES
from tests.support.accounts import PASSWORD
from tests.support.called import CalledHouse
from tests.support.guarded import Caller, GuardedHouse

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


def test_a_long_text_in_any_script_goes_on_as_well(guarded: GuardedHouse) -> None:
    """Two thousand letters of three bytes each: 18 kB as a form sends them."""
    keeper, note = guarded.browser("ana"), "\u9f8d\u5375 \u0436" * 500
    guarded.now_ms += LATE_MS
    late = keeper.post("/set-up/accounts/invite", {"name": "rosa", "role": "viewer", "why": note})
    assert late.status_code == 403
    ready = keeper.post("/sign-in/confirm", {**fields_of(late.text), "password": PASSWORD})
    assert fields_of(ready.text)["why"] == note


def upload(keeper: Caller, fields: dict[str, str], name: str, data: bytes) -> httpx.Response:
    """Send a form with a file as a browser does (RFC 7578), the file between the fields."""
    pairs = list(fields.items())
    parts = [f'--edge\r\nContent-Disposition: form-data; name="{key}"\r\n\r\n{value}\r\n' for key, value in pairs]
    file = f'--edge\r\nContent-Disposition: form-data; name="{name}"; filename="a.csv"\r\n\r\n'.encode()
    middle = len(parts) // 2
    body = "".join(parts[:middle]).encode() + file + data + b"\r\n" + "".join(parts[middle:]).encode() + b"--edge--\r\n"
    headers = {"Accept": "text/html", "Content-Type": "multipart/form-data; boundary=edge"}
    return keeper._ask("/set-up/accounts/invite", "POST", body, headers)


def test_of_an_upload_all_is_kept_but_the_file_which_is_asked_for_again(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    keeper.get("/account")
    guarded.now_ms += LATE_MS
    fields = {"guard": keeper.guard, "name": MARKUP, "role": "viewer", "code": "s3cret"}
    late = upload(keeper, fields, "table", b"label;eggs\r\n--edges are no edge\r\n" * 1000)
    assert late.status_code == 403
    assert "choose it once more" in late.text
    ready = keeper.post("/sign-in/confirm", {**fields_of(late.text), "password": PASSWORD})
    assert 'enctype="multipart/form-data"' in ready.text
    assert '<input id="file-table" name="table" type="file">' in ready.text
    sent = fields_of(ready.text)
    assert (sent["name"], sent["role"]) == (MARKUP, "viewer")
    for hidden in ("s3cret", "label;eggs"):
        assert hidden not in late.text + ready.text


def test_an_upload_that_is_too_large_or_broken_is_not_carried(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    keeper.get("/account")
    guarded.now_ms += LATE_MS
    fields = {"guard": keeper.guard, "name": "x"}
    assert upload(keeper, {**fields, "why": "y" * MOST_BYTES}, "table", b"").status_code == 303
    assert upload(keeper, fields, "table", b"z" * MOST_HEARD_BYTES).status_code == 303
    headers = {"Accept": "text/html", "Content-Type": "multipart/form-data; boundary=edge"}
    assert keeper._ask("/set-up/accounts/invite", "POST", b"no part at all", headers).status_code == 303
    assert upload(keeper, {**fields, "guard": "forged"}, "table", b"z").status_code == 303


def test_nobody_makes_much_out_of_little() -> None:
    """A megabyte of one letter is a kilobyte when packed."""
    packed = urlsafe_b64encode(zlib.compress(b"a=" + b"x" * 1_000_000)).decode().rstrip("=")
    assert len(packed) < 2_000
    assert carried_in({"kept": packed, "kept_to": "/x"}) is None
    for broken in ("!!", "AAAA", packed[:50]):
        assert carried_in({"kept": broken, "kept_to": "/x"}) is None


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
    noise = urlencode({"a": token_urlsafe(48_000)}).encode()
    assert len(noise) < MOST_BYTES
    kept, _ = carried("/x", noise)
    assert kept is None or carried_in(dict(kept.hidden)) == kept
    assert carried("/x", b"guard=g&password=p")[0] is None
    assert carried("/x", b"")[0] is None


@pytest.mark.parametrize("path", ["https://evil.example", "//evil.example/x", "/\\evil.example"])
def test_it_is_never_sent_to_another_site(path: str) -> None:
    whole, _ = carried("/x", b"a=b")
    assert whole is not None
    found = carried_in({**dict(whole.hidden), "kept_to": path})
    assert found is not None
    assert found.path == "/"


@given(st.lists(st.tuples(st.text(st.characters(codec="utf-8"), min_size=1), st.text(st.characters(codec="utf-8")))))
def test_every_field_arrives_as_it_was_typed(fields: list[tuple[str, str]]) -> None:
    fields = [("x-" + name, value) for name, value in fields]
    body = urlencode(fields)
    found, _ = carried("/x", body.encode())
    if not fields:
        assert found is None
        return
    assert found is not None
    assert list(found.fields) == parse_qsl(body, keep_blank_values=True) == fields
    assert carried_in(dict(found.hidden)) == found
