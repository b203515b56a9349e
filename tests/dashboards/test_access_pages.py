"""The pages of sign-in, of the own account and of all accounts, over real accounts."""

import re
from html import unescape

import pyotp
import pytest

from daemon.access.values import Refused, Role
from daemon.access.waiting import MOST_TRIES, Tries
from daemon.storage import accounts
from tests.support.accounts import PASSWORD
from tests.support.called import CalledHouse
from tests.support.guarded import MINUTE_MS, SECOND_MS, Caller, GuardedHouse

ANOTHER = "copper lantern seven quiet otters"
MARKUP = "<b>Ana</b><script>alert(1)</script>"


@pytest.fixture
def guarded(house: CalledHouse) -> GuardedHouse:
    return GuardedHouse(house)


def words(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ").split())


def value_of(page: str, name: str) -> str:
    """What stands in a field of a page."""
    [field] = re.findall(rf'<input id="[\w-]+" name="{name}"[^>]*>', page)
    found = re.search(r' value="([^"]*)"', field)
    return unescape(found[1]) if found else ""


def error_of(page: str, field: str) -> str:
    """What is said to be wrong beside a field, which names that text to those who do not see it."""
    found = re.search(rf'<p class="error" id="{field}-error">(.*?)</p>', page, re.DOTALL)
    assert (f'aria-describedby="{field}-error' in page) is (found is not None)
    return words(found[1]) if found else ""


def test_the_first_code_makes_the_first_keeper_and_is_good_once(guarded: GuardedHouse) -> None:
    first = guarded.browser()
    assert first.get("/").headers["Location"] == "/sign-in"
    assert first.get("/sign-in").headers["Location"] == "/welcome"
    assert "Nobody has an account here yet" in words(first.get("/welcome").text)
    code = guarded.code().lower().replace("-", " ")
    fields = {"code": code, "name": "ana", "new": PASSWORD, "again": PASSWORD}
    entered = first.post("/welcome", fields)
    assert (entered.status_code, entered.headers["Location"]) == (303, "/")
    assert first.get("/").status_code == 200
    assert "Keeper : may do everything" in words(first.get("/account").text)
    second = guarded.browser().post("/welcome", {**fields, "name": "eve"})
    assert second.status_code == 422
    assert [each.name for each in guarded.desk.accounts()] == ["ana"]


@pytest.mark.parametrize(
    ("fields", "field", "said"),
    [
        ({"again": f"{PASSWORD}x"}, "welcome-again", "This is not what you typed above"),
        ({"new": "short", "again": "short"}, "welcome-new", "This has 5 characters, and 15 are needed"),
        ({"new": "a" * 20, "again": "a" * 20}, "welcome-new", "one of the first that somebody would try"),
        ({"name": "An na"}, "welcome-name", "A name has letters without accents"),
        ({"name": "page"}, "welcome-name", "means something else in the journal"),
    ],
)
def test_what_is_wrong_with_an_invitation_stands_beside_its_field_and_what_was_typed_stays(
    guarded: GuardedHouse, fields: dict[str, str], field: str, said: str
) -> None:
    code = guarded.code()
    typed = {"code": code, "name": "ana", "new": PASSWORD, "again": PASSWORD, **fields}
    answer = guarded.browser().post("/welcome", typed)
    assert answer.status_code == 422
    assert said in error_of(answer.text, field)
    assert (value_of(answer.text, "code"), value_of(answer.text, "name")) == (code, typed["name"])
    assert value_of(answer.text, "new") == value_of(answer.text, "again") == ""
    assert typed["new"] not in answer.text


def test_a_wrong_password_keeps_the_name_and_the_wait_grows_in_words(guarded: GuardedHouse) -> None:
    guarded.account()
    caller = guarded.browser()
    answers = [caller.sign_in(password=f"wrong {number} horse battery") for number in range(5)]
    assert [each.status_code for each in answers] == [422, 422, 422, 422, 429]
    assert value_of(answers[0].text, "name") == "ana"
    assert value_of(answers[0].text, "password") == ""
    assert "Name or password is wrong." in error_of(answers[0].text, "sign-in-password")
    assert "Try again in 30 seconds." in words(answers[4].text)
    assert answers[4].headers["Retry-After"] == "30"
    right = caller.sign_in()
    assert right.status_code == 429
    assert "Too many wrong passwords for this name. Try again in 30 seconds." in words(right.text)
    guarded.now_ms += 30 * SECOND_MS
    assert caller.sign_in(password="wrong again").headers["Retry-After"] == "60"
    guarded.now_ms += 60 * SECOND_MS
    assert caller.sign_in().status_code == 303


def test_an_unknown_name_is_answered_as_a_wrong_password_is(guarded: GuardedHouse) -> None:
    guarded.account()
    known, unknown = (guarded.browser().sign_in(name, "wrong horse battery") for name in ("ana", "eve"))
    assert known.text.replace("ana", "eve") == unknown.text
    assert known.status_code == unknown.status_code == 422


def test_nobody_is_led_to_another_site_by_sign_in(guarded: GuardedHouse) -> None:
    guarded.account()
    for to in ("https://evil.example/", "//evil.example", "/\\evil.example"):
        caller = guarded.browser()
        assert "evil" not in caller.get(f"/sign-in?to={to}").text
        assert caller.sign_in(to=to).headers["Location"] == "/"
    assert guarded.browser("ben", Role.VIEWER).get("/sign-in?to=//evil.example").headers["Location"] == "/"


def test_a_changed_password_ends_all_other_sessions_and_keeps_this_one(guarded: GuardedHouse) -> None:
    guarded.account()
    here, other = guarded.browser(), guarded.browser()
    here.sign_in()
    other.sign_in()
    before = here.token
    wrong = here.post("/account/password", {"old": "not it at all", "new": ANOTHER, "again": ANOTHER})
    assert "The password is wrong." in error_of(wrong.text, "password-old")
    assert "is not what you typed above" in error_of(
        here.post("/account/password", {"old": PASSWORD, "new": ANOTHER, "again": "x"}).text, "password-again"
    )
    done = here.post("/account/password", {"old": PASSWORD, "new": ANOTHER, "again": ANOTHER})
    assert (done.status_code, done.headers["Location"]) == (303, "/account")
    assert here.token != before
    assert here.get("/").status_code == 200
    assert other.get("/").status_code == 303
    assert guarded.browser().sign_in().status_code == 422
    assert guarded.browser().sign_in(password=ANOTHER).status_code == 303


def test_sessions_are_listed_with_their_device_and_ended_one_by_one_or_all(guarded: GuardedHouse) -> None:
    guarded.account()
    here, one, two = (guarded.browser() for _ in range(3))
    here.sign_in()
    one.headers["User-Agent"] = "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0) AppleWebKit/605 Version/18.0 Safari/604.1"
    one.sign_in()
    two.headers["User-Agent"] = MARKUP
    two.sign_in()
    page = here.get("/account").text
    assert "Firefox, Linux (this one)" in words(page)
    assert "Safari, iPhone" in words(page)
    assert MARKUP not in page
    assert unescape(page).count(MARKUP) >= 1
    numbers = re.findall(r'name="number" value="(\d+)"', page)
    assert len(numbers) == 3, "this one is not offered, and that of the test's own account is"
    phone = next(each for each in guarded.desk.all_sessions() if "iPhone" in each.device)
    assert here.post("/account/sessions/end", {"number": str(phone.number)}).status_code == 303
    assert one.get("/").status_code == 303
    assert two.get("/").status_code == 200
    assert here.post("/account/sessions/end-others").status_code == 303
    assert two.get("/").status_code == 303
    assert here.get("/").status_code == 200


def test_nobody_ends_the_session_of_somebody_else(guarded: GuardedHouse) -> None:
    keeper, viewer = guarded.browser("ana"), guarded.browser("ben", Role.VIEWER)
    number = next(each.number for each in guarded.desk.all_sessions() if each.account == "ana")
    for given in (str(number), "x", "", "9" * 30, "-1"):
        assert viewer.post("/account/sessions/end", {"number": given}).status_code == 303
    assert keeper.get("/").status_code == 200


def test_a_second_factor_is_set_up_asked_for_and_dropped(guarded: GuardedHouse) -> None:
    caller = guarded.browser("ana")
    guarded.now_ms += 16 * MINUTE_MS
    assert "give your password again" in caller.get("/account/second-factor").text
    caller.post("/sign-in/confirm", {"password": PASSWORD, "to": "/account/second-factor"})
    page = caller.get("/account/second-factor").text
    secret = re.findall(r'name="secret" value="([A-Z2-7]+)"', page)[0]
    assert re.search(r'<path d="M\d+ \d+h1v1h-1z', page)
    wrong = caller.post("/account/second-factor", {"secret": secret, "code": "12345"})
    assert wrong.status_code == 422
    assert "The code does not fit" in error_of(wrong.text, "second-factor-code")
    assert f'value="{secret}"' in wrong.text, "what was scanned stays good"
    now_s = guarded.now_ms // 1000
    done = caller.post("/account/second-factor", {"secret": secret, "code": pyotp.TOTP(secret).at(now_s)})
    assert done.headers["Location"] == "/account"
    assert "signing in takes a code as well" in caller.get("/account").text
    fresh = guarded.browser()
    asked = fresh.sign_in()
    assert asked.status_code == 422
    assert "Give the six digits" in error_of(asked.text, "sign-in-code")
    guarded.now_ms += 60 * SECOND_MS
    code = pyotp.TOTP(secret).at(guarded.now_ms // 1000)
    assert fresh.sign_in(code=code).status_code == 303
    assert guarded.browser().sign_in(code=code).status_code == 422, "a code is good once"
    assert "Do without it" in caller.get("/account/second-factor").text
    assert caller.post("/account/second-factor/drop", {"password": PASSWORD}).headers["Location"] == "/account"
    assert guarded.browser().sign_in().status_code == 303


def test_a_keeper_invites_and_the_code_is_shown_once(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    page = keeper.post("/set-up/accounts/invite", {"name": "ben", "role": "responder"})
    assert page.status_code == 200
    [code] = re.findall(r'<code id="once">([^<]+)</code>', page.text)
    assert code not in keeper.get("/set-up/accounts").text
    assert code.replace("-", "") not in str(guarded.audited())
    assert "Invited; has not signed in yet." in words(keeper.get("/set-up/accounts").text)
    guest = guarded.browser()
    fields = {"code": code, "name": "ben", "new": ANOTHER, "again": ANOTHER}
    assert guest.post("/welcome", fields).status_code == 303
    assert "ben, responder" in words(guest.get("/account").text)


def test_what_is_wrong_with_an_invitation_of_a_keeper_is_said_and_markup_is_text(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    for fields, field in (
        ({"name": MARKUP, "role": "viewer"}, "invite-name"),
        ({"name": "x", "role": "king"}, "invite-role"),
    ):
        answer = keeper.post("/set-up/accounts/invite", fields)
        assert answer.status_code == 422
        assert error_of(answer.text, field)
        assert "<script>" not in answer.text
        assert value_of(answer.text.split('id="keys-head"')[0], "name") == fields["name"]


def test_roles_are_changed_accounts_closed_and_a_keeper_stays(guarded: GuardedHouse) -> None:
    keeper, viewer = guarded.browser("ana"), guarded.browser("ben", Role.VIEWER)
    assert viewer.get("/set-up/accounts").status_code == 403
    assert keeper.post("/set-up/accounts/role", {"name": "ben", "role": "responder"}).status_code == 303
    assert "ben, responder" in words(viewer.get("/").text)
    last = keeper.post("/set-up/accounts/close", {"name": "ana"})
    assert last.status_code == 422
    assert "Nothing was done: This is the last keeper" in words(last.text)
    assert keeper.post("/set-up/accounts/close", {"name": "ben"}).status_code == 303
    assert viewer.get("/").status_code == 303
    assert "Closed (1)" in words(keeper.get("/set-up/accounts").text)


def test_accounts_are_changed_only_a_while_after_the_password_was_given(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    guarded.now_ms += 16 * MINUTE_MS
    page = keeper.get("/set-up/accounts")
    assert "give your password again" in page.text
    assert "/set-up/accounts/invite" not in page.text
    refused = keeper.post("/set-up/accounts/invite", {"name": "ben", "role": "viewer"})
    assert (refused.status_code, 'id="confirm-press"' in refused.text) == (403, True)
    assert [each.name for each in guarded.desk.accounts()] == ["ana"]
    wrong = keeper.post("/sign-in/confirm", {"password": "no", "to": "/set-up/accounts"})
    assert "The password is wrong." in error_of(wrong.text, "confirm-password")
    confirmed = keeper.post("/sign-in/confirm", {"password": PASSWORD, "to": "/set-up/accounts"})
    assert confirmed.headers["Location"] == "/set-up/accounts"
    assert keeper.post("/set-up/accounts/invite", {"name": "ben", "role": "viewer"}).status_code == 200


def test_the_key_of_a_program_is_shown_once_and_withdrawn(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    page = keeper.post("/set-up/accounts/keys", {"name": "dashboard", "role": "viewer"}).text
    [key] = re.findall(r'<code id="once">([^<]+)</code>', page)
    program = Caller(guarded.app, headers={"Authorization": f"Bearer {key}", "Accept": "application/json"})
    assert program.get("/api/overview").status_code == 200
    listed = keeper.get("/set-up/accounts").text
    assert key not in listed
    assert "dashboard" in listed
    assert keeper.post("/set-up/accounts/keys/withdraw", {"name": "dashboard"}).status_code == 303
    assert program.get("/api/overview").status_code == 401


def test_every_page_says_who_is_signed_in_and_has_a_way_out(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    for path in (
        "/",
        "/alarms",
        "/account",
        "/set-up/accounts",
        "/set-up/audit",
        "/alarms/of/none",
        "/sign-in/confirm",
    ):
        page = keeper.get(path).text
        assert 'action="/sign-out"' in page, path
        assert "ana, keeper" in words(page), path


def test_who_has_a_password_signs_in_also_before_there_is_a_keeper(guarded: GuardedHouse) -> None:
    """`clutchwarden access invite` may come before the first keeper."""
    assert guarded.browser().get("/sign-in").headers["location"] == "/welcome"
    code = guarded.code("rosa", Role.RESPONDER)
    assert not isinstance(guarded.desk.accept(code, "rosa", PASSWORD, "127.0.0.1", ""), Refused)
    page = guarded.browser().get("/sign-in")
    assert page.status_code == 200
    assert "/welcome" in page.text


def test_an_account_that_strangers_have_used_up_says_so_to_the_keeper(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    tries = Tries(MOST_TRIES, guarded.now_ms, 1)
    guarded.house.journal.write(lambda conn: accounts.set_tries(conn, 1, accounts.STRANGERS, tries))
    guarded.now_ms += 60_000
    text = keeper.get("/set-up/accounts").text
    assert "100 wrong passwords in a row from places where ana was not signed in lately" in text
    assert "A new invitation for ana ends this." in text
