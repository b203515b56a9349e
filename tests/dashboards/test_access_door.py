"""The door before the pages, over real accounts: who is let in, who is sent where, and what nobody gets by."""

import logging

import pytest

from daemon.access.values import Role
from dashboards.forms import GUARD_HEADER
from tests.dashboards.asking import ask
from tests.support.accounts import PASSWORD, make_key
from tests.support.called import FORM, HIGH, CalledHouse
from tests.support.guarded import DAY_MS, LOCAL, PUBLIC, Caller, GuardedHouse

HOST = {"Host": LOCAL}


@pytest.fixture
def guarded(drifted: CalledHouse) -> GuardedHouse:
    return GuardedHouse(drifted)


def press(caller: Caller, house: CalledHouse, **headers: str) -> int:
    """Acknowledge the alarm at the first page."""
    [alarm] = house.overview().incubators[0].alarms
    fields = {"key": alarm.key, "occurrence": alarm.occurrence, "version": str(alarm.version)}
    return caller.post("/alarms/acknowledge", fields, **headers).status_code


@pytest.mark.parametrize("path", ["/", "/alarms", "/alarms/metrics?days=7", "/alarms/journal", "/set-up/accounts"])
def test_a_stranger_is_sent_to_sign_in_and_back_afterwards(guarded: GuardedHouse, path: str) -> None:
    guarded.account()
    stranger = guarded.browser()
    answer = stranger.get(path)
    assert answer.status_code == 303
    assert answer.headers["Cache-Control"] == "no-store"
    page = stranger.get(answer.headers["Location"])
    assert page.status_code == 200
    assert "<nav" not in page.text
    entered = stranger.post("/sign-in", {"name": "ana", "password": PASSWORD, "to": path})
    assert (entered.status_code, entered.headers["Location"]) == (303, path)
    assert stranger.get(path).status_code == 200


@pytest.mark.parametrize("path", ["/api/overview", "/openapi.json", "/events", "/alarms/events", "/api/alarms"])
def test_a_program_is_told_so_in_json(guarded: GuardedHouse, path: str) -> None:
    answer = ask(guarded.app, path, headers=HOST)
    assert answer.status_code == 401
    assert "Sign in first" in answer.json()["detail"]
    assert answer.headers["WWW-Authenticate"].startswith("Bearer ")


def test_strangers_have_what_carries_its_own_secret_or_none(guarded: GuardedHouse) -> None:
    link = guarded.house.link()
    assert ask(guarded.app, link, headers=HOST).status_code == 200
    assert guarded.browser().post(link, {"answer": "acknowledge"}).status_code == 200
    assert guarded.house.shown(HIGH) == "acknowledged"
    assert ask(guarded.app, "/static/page.css", headers=HOST).status_code == 200
    assert ask(guarded.app, "/health", headers=HOST).status_code == 200


def test_health_names_nobody_and_nothing_to_strangers(guarded: GuardedHouse) -> None:
    guarded.house.now_ms += DAY_MS
    open_answer = ask(guarded.app, "/health", headers=HOST)
    assert open_answer.status_code == 503
    assert open_answer.json()["reasons"] == ["No channel has a fresh reading."]
    key = make_key(guarded.desk)
    whole = ask(guarded.app, "/health", headers={**HOST, "Authorization": f"Bearer {key}"})
    assert "north-air" in whole.json()["reasons"][0]


@pytest.mark.parametrize("role", list(Role))
def test_each_role_answers_alarms_or_is_told_who_may(guarded: GuardedHouse, role: Role) -> None:
    guarded.account()
    caller = guarded.browser("ben", role)
    page = caller.get("/").text
    may = role is not Role.VIEWER
    assert ('action="/alarms/acknowledge"' in page) is may
    assert press(caller, guarded.house) == (303 if may else 403)
    assert guarded.house.shown(HIGH) == ("acknowledged" if may else "unacknowledged")
    assert [each.who for each in guarded.house.records("acknowledge")] == (["ben"] if may else [])


def test_without_the_guard_of_the_session_nothing_is_done(guarded: GuardedHouse) -> None:
    caller = guarded.browser("ana")
    caller.get("/")
    own = caller.guard
    other = guarded.browser("ben", Role.RESPONDER)
    other.get("/")
    assert own not in ("", other.guard)
    for guard in ("", "x", other.guard, f"{own}x", "ä"):
        caller.guard = guard or " "
        assert press(caller, guarded.house) == 403
    assert guarded.house.shown(HIGH) == "unacknowledged"
    caller.guard = " "
    assert press(caller, guarded.house, **{GUARD_HEADER: own}) == 303
    assert guarded.house.shown(HIGH) == "acknowledged"


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "", "Origin": "https://evil.example"},
        {"Sec-Fetch-Site": "", "Origin": "http://127.0.0.1:9999"},
    ],
)
@pytest.mark.parametrize("path", ["/alarms/acknowledge", "/sign-in", "/sign-out", "/welcome", "/account/password"])
def test_another_site_can_send_no_form_even_with_the_guard(
    guarded: GuardedHouse, path: str, headers: dict[str, str]
) -> None:
    caller = guarded.browser("ana")
    before = len(guarded.audited())
    answer = caller.post(path, {"name": "ana", "password": PASSWORD}, **headers)
    assert answer.status_code == 403
    assert "another page" in answer.text
    assert len(guarded.audited()) == before
    assert guarded.desk.visitor(caller.token, "") is not None


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8330", "127.0.0.1.evil.example", ""])
@pytest.mark.parametrize("path", ["/", "/sign-in", "/health", "/static/page.css", "/a/x"])
def test_a_foreign_name_that_leads_here_gets_nothing(guarded: GuardedHouse, path: str, host: str) -> None:
    answer = ask(guarded.app, path, headers={"Host": host})
    assert answer.status_code == 421
    assert "do not answer to that name" in answer.text


def test_a_session_that_was_ended_has_aged_or_idled_is_sent_to_sign_in(guarded: GuardedHouse) -> None:
    for days, is_in in ((13, True), (26, True), (29.9, True), (30, False)):
        if days == 13:
            caller, begun_ms = guarded.browser("ana"), guarded.now_ms
        guarded.now_ms = begun_ms + round(days * DAY_MS)
        assert (caller.get("/").status_code == 200) is is_in, days
        # What was seen is written down a moment later.
        guarded.house.journal.write(lambda _conn: None)
    idle = guarded.browser("ben", Role.VIEWER)
    guarded.now_ms += 14 * DAY_MS
    assert idle.get("/").status_code == 303
    ended = guarded.browser("carl", Role.VIEWER)
    visitor = guarded.desk.visitor(ended.token, "")
    assert visitor is not None
    assert visitor.session is not None
    guarded.desk.end_any_session(None, visitor.session, "host")
    assert ended.get("/").status_code == 303
    assert ended.get("/alarms/events").status_code == 401


def test_signing_out_kills_the_token_on_the_server_too(guarded: GuardedHouse) -> None:
    caller = guarded.browser("ana")
    caller.get("/")
    kept = caller.token
    answer = caller.post("/sign-out")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/sign-in")
    assert caller.token == ""
    caller.token = kept
    assert caller.get("/").status_code == 303


def test_a_token_from_before_is_worth_nothing_after_sign_in_and_confirmation(guarded: GuardedHouse) -> None:
    """Nobody can put a token of theirs under somebody (ASVS 5.0 7.2.4)."""
    guarded.account()
    caller = guarded.browser()
    caller.token = "planted-by-somebody"
    caller.sign_in()
    first = caller.token
    assert first not in ("", "planted-by-somebody")
    caller.post("/sign-in/confirm", {"password": PASSWORD})
    assert caller.token not in ("", first)
    assert guarded.desk.visitor(first, "") is None
    assert guarded.desk.visitor(caller.token, "") is not None


def test_over_https_the_cookie_is_secure_and_the_browser_is_to_stay_there(guarded: GuardedHouse) -> None:
    guarded.account()
    caller = Caller(guarded.app, host=PUBLIC)
    answer = caller.sign_in()
    assert answer.headers["Set-Cookie"].startswith("__Host-clutchwarden=")
    assert "; Secure; HttpOnly; SameSite=Lax" in answer.headers["Set-Cookie"]
    page = caller.get("/")
    assert page.status_code == 200
    assert page.headers["Strict-Transport-Security"] == "max-age=31536000"
    here = guarded.browser()
    assert "Strict-Transport-Security" not in here.sign_in().headers
    # The plain cookie is not taken where the browser came by https.
    assert (
        ask(guarded.app, "/", headers={"Host": PUBLIC, "Cookie": f"clutchwarden-session={here.token}"}).status_code
        == 303
    )


def test_a_program_reads_with_its_key_until_it_is_withdrawn_and_never_falls_back_to_a_cookie(
    guarded: GuardedHouse,
) -> None:
    keeper = guarded.browser("ana")
    key = make_key(guarded.desk, role=Role.RESPONDER)
    headers = {**HOST, "Authorization": f"bearer {key}"}
    assert ask(guarded.app, "/api/overview", headers=headers).status_code == 200
    assert ask(guarded.app, "/set-up/audit", headers=headers).status_code == 403
    sent = {**headers, "Content-Type": FORM}
    assert ask(guarded.app, "/set-up/accounts/invite", "POST", b"", sent).status_code == 403
    # It needs no guard: no other site can make a browser send it.
    assert ask(guarded.app, f"/alarms/of/{HIGH}", "POST", b"wanted=x", sent).status_code == 400
    guarded.desk.withdraw_key(None, "reader", "host")
    cookie = {"Cookie": f"{keeper.cookie_name}={keeper.token}"}
    for wrong in (headers, {**headers, **cookie}):
        answer = ask(guarded.app, "/api/overview", headers=wrong)
        assert answer.status_code == 401
        assert "not known here, or was withdrawn" in answer.json()["detail"]


def test_what_a_browser_says_to_the_proxy_before_the_pages_is_no_key(guarded: GuardedHouse) -> None:
    """RFC 7617: a proxy that asks for a password of its own usually passes the header on."""
    here = guarded.browser("ana")
    basic = {**HOST, "Authorization": "Basic dTpw"}
    cookie = {"Cookie": f"{here.cookie_name}={here.token}"}
    assert ask(guarded.app, "/", headers={**basic, **cookie}).status_code == 200
    answer = ask(guarded.app, "/alarms", headers=basic)
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in?to=/alarms")
    # Another site could make a browser send it: it stands for nobody's guard.
    sent = {**basic, **cookie, "Content-Type": FORM}
    assert ask(guarded.app, f"/alarms/of/{HIGH}", "POST", b"wanted=x", sent).status_code == 403


def test_where_the_journal_cannot_be_read_nobody_is_let_in_and_links_still_answer(
    guarded: GuardedHouse, caplog: pytest.LogCaptureFixture
) -> None:
    caller = guarded.browser("ana")
    guarded.house.journal.close()
    answer = caller.get("/")
    assert answer.status_code == 503
    assert "Who is signed in cannot be read just now" in answer.text
    assert caller.get("/health").status_code == 503
    assert caller.get("/sign-in").status_code == 503
    assert caller.token not in caplog.text


def test_no_get_changes_anything_but_when_somebody_was_seen(guarded: GuardedHouse) -> None:
    caller = guarded.browser("ana")
    paths = ["/", "/alarms", f"/alarms/of/{HIGH}", "/account", "/account/second-factor", "/set-up/accounts"]
    paths += [
        "/set-up/audit",
        "/sign-in",
        "/sign-in/confirm",
        "/welcome",
        "/health",
        "/sign-out",
        "/a/x",
        "/api/overview",
    ]
    before = guarded.house.everything()
    for path in paths:
        for method in ("GET", "HEAD", "OPTIONS"):
            assert caller._ask(path, method, None, {}).status_code < 500
    assert guarded.house.everything() == before


def test_no_secret_is_in_the_log(guarded: GuardedHouse, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    caller = guarded.browser("vera", Role.KEEPER)
    viewer = guarded.browser("ben", Role.VIEWER)
    viewer.get("/set-up/accounts")
    press(viewer, guarded.house)
    assert "ben, who is viewer, was refused POST /alarms/acknowledge" in caplog.text
    for secret in (caller.token, viewer.token, viewer.guard, PASSWORD):
        assert secret not in caplog.text
