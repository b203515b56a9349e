"""Who may do what: the whole table of paths and roles, and that whatever is not named is closed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.access.values import Role, Visitor
from dashboards.access.policy import Ruling, rule

NOW_MS = 1_780_000_000_000
JUST_NOW_MS = NOW_MS - 60_000
OPEN, VIEWER, RESPONDER, KEEPER = None, Role.VIEWER, Role.RESPONDER, Role.KEEPER

# The least role that each may be done with: project choice, after ASVS 5.0 8.2.1 and 8.2.2.
TABLE = [
    ("GET", "/", VIEWER),
    ("HEAD", "/clutches/3", VIEWER),
    ("GET", "/events", VIEWER),
    ("GET", "/api/overview", VIEWER),
    ("GET", "/api/rounds", VIEWER),
    ("GET", "/api/rounds/7", VIEWER),
    ("GET", "/openapi.json", VIEWER),
    ("GET", "/metrics", VIEWER),
    ("GET", "/people", VIEWER),
    ("GET", "/set-up", VIEWER),
    ("GET", "/set-up/people", VIEWER),
    ("GET", "/inbox", VIEWER),
    ("GET", "/account", VIEWER),
    ("GET", "/sign-in/confirm", VIEWER),
    ("GET", "/set-up/accounts", KEEPER),
    ("GET", "/set-up/audit", KEEPER),
    ("GET", "/api/set-up/audit", KEEPER),
    ("GET", "/api/set-up/accounts", KEEPER),
    ("OPTIONS", "/alarms", VIEWER),
    ("GET", "/sign-in", OPEN),
    ("POST", "/sign-in", OPEN),
    ("GET", "/welcome", OPEN),
    ("POST", "/welcome", OPEN),
    ("GET", "/health", OPEN),
    ("GET", "/static/page.css", OPEN),
    ("GET", "/a/token", OPEN),
    ("POST", "/a/duty/token", OPEN),
    ("GET", "/calendar/token.ics", OPEN),
    ("GET", "/hand-over", VIEWER),
    ("GET", "/set-up/calendar", VIEWER),
    ("POST", "/set-up/calendar/make", KEEPER),
    ("POST", "/set-up/hand-over", KEEPER),
    ("POST", "/inbox/messages", OPEN),
    ("POST", "/sign-out", VIEWER),
    ("POST", "/sign-in/confirm", VIEWER),
    ("POST", "/account/password", VIEWER),
    ("GET", "/incidents", VIEWER),
    ("GET", "/incidents/3/sheet.html", VIEWER),
    ("GET", "/review", VIEWER),
    ("GET", "/api/review", VIEWER),
    ("POST", "/incidents/3/notes", RESPONDER),
    ("POST", "/alarms/acknowledge", RESPONDER),
    ("POST", "/alarms/of/temperature-high:north-air/air", RESPONDER),
    ("POST", "/rounds/1", RESPONDER),
    ("POST", "/clutches/new", RESPONDER),
    ("POST", "/clutches/3/eggs", RESPONDER),
    ("POST", "/clutches/3/close", RESPONDER),
    ("POST", "/clutches/table/take-in", RESPONDER),
    ("GET", "/clutches/3/withdraw", VIEWER),
    ("POST", "/clutches/3/withdraw", KEEPER),
    ("POST", "/clutches/3/withdraw/", KEEPER),
    ("POST", "/clutches/3/reopen", KEEPER),
    ("POST", "/api/clutches/3/reopen", KEEPER),
    ("GET", "/boxes/north/upper/N1", VIEWER),
    ("GET", "/labels/sheet", VIEWER),
    ("POST", "/people/test", RESPONDER),
    ("POST", "/api/alarms/1", RESPONDER),
    ("POST", "/set-up/probes", KEEPER),
    ("DELETE", "/set-up/calibration/1", KEEPER),
    ("POST", "/nobody/knows/this", KEEPER),
    ("PATCH", "/", KEEPER),
    ("POST", "/health", OPEN),
]


def visitor(role: Role, confirmed_ms: int | None = None, session: int | None = 1) -> Visitor:
    return Visitor("ana", role, "guard", session, confirmed_ms)


@pytest.mark.parametrize(("method", "path", "least"), TABLE)
def test_each_request_takes_the_role_of_the_table_and_none_below(method: str, path: str, least: Role | None) -> None:
    stranger = rule(method, path, None, NOW_MS)
    assert stranger.ruling is (Ruling.ALLOWED if least is None else Ruling.SIGN_IN)
    for role in Role:
        ruled = rule(method, path, visitor(role, JUST_NOW_MS), NOW_MS)
        allowed = least is None or tuple(Role).index(role) >= tuple(Role).index(least)
        assert ruled.ruling is (Ruling.ALLOWED if allowed else Ruling.TOO_LOW), role
        assert ruled.needed == least


@given(st.text(min_size=1).map(lambda rest: f"/{rest}"), st.sampled_from(["GET", "POST", "PUT", "DELETE", "X"]))
def test_whatever_is_not_named_is_closed_to_strangers(path: str, method: str) -> None:
    named = path in ("/sign-in", "/welcome", "/health", "/inbox/messages") or path.startswith(
        ("/static/", "/a/", "/calendar/")
    )
    assert named or rule(method, path, None, NOW_MS).ruling is Ruling.SIGN_IN


@pytest.mark.parametrize(
    "path",
    [
        "/sign-in/",
        "/sign-inx",
        "/SIGN-IN",
        "/static",
        "/staticx",
        "/a",
        "/alarms",
        "/health/x",
        "//a/x",
        "/welcome/x",
        "/calendar",
    ],
)
def test_what_only_looks_like_an_open_path_is_closed(path: str) -> None:
    assert rule("GET", path, None, NOW_MS).ruling is Ruling.SIGN_IN


@pytest.mark.parametrize("path", ["/alarmsx", "/clutches-of-others", "/people.json", "/set-up/alarms"])
def test_what_only_looks_like_a_path_of_responders_takes_a_keeper(path: str) -> None:
    assert rule("POST", path, visitor(Role.RESPONDER), NOW_MS).ruling is Ruling.TOO_LOW


@pytest.mark.parametrize(
    "path",
    [
        "/set-up/people",
        "/set-up/people/ana",
        "/set-up/contacts",
        "/set-up/accounts/invite",
        "/set-up/calendar/make",
        "/account/second-factor",
    ],
)
def test_people_contacts_and_accounts_take_a_password_of_the_last_quarter_of_an_hour(path: str) -> None:
    quarter_ms = 15 * 60_000
    for confirmed_ms, ruling in (
        (NOW_MS, Ruling.ALLOWED),
        (NOW_MS - quarter_ms, Ruling.ALLOWED),
        (NOW_MS - quarter_ms - 1, Ruling.CONFIRM),
        (NOW_MS + 1, Ruling.CONFIRM),
        (None, Ruling.CONFIRM),
    ):
        assert rule("POST", path, visitor(Role.KEEPER, confirmed_ms), NOW_MS).ruling is ruling, confirmed_ms
        assert rule("GET", path, visitor(Role.KEEPER, confirmed_ms), NOW_MS).ruling is Ruling.ALLOWED
    assert rule("POST", path, visitor(Role.KEEPER, session=None), NOW_MS).ruling is Ruling.NOT_A_PROGRAM


def test_nothing_else_asks_for_the_password_again() -> None:
    for path in ("/set-up/probes", "/alarms/acknowledge", "/account/password", "/sign-out", "/set-up/peoples"):
        assert rule("POST", path, visitor(Role.KEEPER), NOW_MS).ruling is Ruling.ALLOWED
