"""Signing in, out and again at a desk on a real journal, with right and wrong passwords."""

import pytest
from argon2 import PasswordHasher

from daemon.access import hashing
from daemon.access.values import Refused, Role, SignedIn
from daemon.storage import accounts
from tests.access.desk import AWAY, DAY_MS, GOOD, HOME, HOUR_MS, MINUTE_MS, OTHER, PHONE, AtDesk

WRONG = "Name or password is wrong."


def test_who_signs_in_is_known_by_the_token_until_signing_out(house: AtDesk) -> None:
    signed = house.sign_in()
    visitor = house.desk.visitor(signed.token, HOME)
    assert visitor == signed.visitor
    assert visitor is not None
    assert (visitor.who, visitor.role, visitor.confirmed_ms) == ("mara", Role.KEEPER, house.now_ms)
    assert visitor.guard
    house.desk.sign_out(signed.token)
    assert house.desk.visitor(signed.token, HOME) is None
    house.desk.sign_out(signed.token)
    assert house.words()[-2:] == [("mara", "sign-in", "mara"), ("mara", "sign-out", "mara")]


def test_each_sign_in_has_a_token_and_a_guard_of_its_own(house: AtDesk) -> None:
    first, second = house.sign_in(), house.sign_in()
    assert first.token != second.token
    assert first.visitor.guard != second.visitor.guard
    assert house.desk.visitor(first.token, HOME) == first.visitor


def test_a_name_may_be_written_in_any_case_and_stays_one(house: AtDesk) -> None:
    assert house.sign_in("MARA").visitor.who == "mara"


@pytest.mark.parametrize("token", ["", "x", "é\ud800", "a" * 10_000, "' OR 1=1 --"])
def test_what_is_no_token_is_nobody(house: AtDesk, token: str) -> None:
    assert house.desk.visitor(token, HOME) is None
    assert house.desk.visitor_of_key(token) is None


def test_a_session_ends_30_days_after_its_begin_and_14_after_the_last_visit(house: AtDesk) -> None:
    signed, other = house.sign_in(), house.sign_in()
    for _ in range(29):
        house.now_ms += DAY_MS
        assert house.desk.visitor(signed.token, HOME) is not None
        house.all_written()
    assert house.desk.visitor(other.token, HOME) is None, "nobody has used it for 14 days"
    house.now_ms = signed.until_ms - 1
    assert house.desk.visitor(signed.token, HOME) is not None
    house.now_ms = signed.until_ms
    assert house.desk.visitor(signed.token, HOME) is None


def test_a_clock_set_back_by_a_year_ends_no_session(house: AtDesk) -> None:
    signed = house.sign_in()
    house.now_ms -= 365 * DAY_MS
    assert house.desk.visitor(signed.token, HOME) is not None


def test_being_seen_is_written_down_once_in_five_minutes(house: AtDesk) -> None:
    signed = house.sign_in()

    def seen_ms() -> tuple[int, str]:
        house.all_written()
        [session] = house.desk.sessions(signed.visitor)
        return session.seen_ms, session.address

    began_ms = house.now_ms
    house.now_ms += 5 * MINUTE_MS - 1
    house.desk.visitor(signed.token, AWAY)
    assert seen_ms() == (began_ms, HOME)
    house.now_ms += 1
    house.desk.visitor(signed.token, AWAY)
    assert seen_ms() == (house.now_ms, AWAY)


@pytest.mark.usefixtures("full_work")
def test_a_password_is_kept_anew_where_the_parameters_have_risen(house: AtDesk) -> None:
    old = PasswordHasher(1, 8 * 1024, 1).hash(GOOD)
    house.journal.write(lambda conn: accounts.set_password(conn, 1, old))
    house.sign_in()
    with house.journal.read() as conn:
        account = accounts.find(conn, "mara")
    assert account is not None
    assert account.password_hash is not None
    assert not hashing.is_outdated(account.password_hash)
    house.sign_in()


def test_the_password_given_again_gives_another_token(house: AtDesk) -> None:
    signed = house.sign_in()
    house.now_ms += HOUR_MS
    again = house.desk.confirm(signed.token, GOOD, "", HOME)
    assert isinstance(again, SignedIn)
    assert again.until_ms == signed.until_ms
    assert again.visitor.confirmed_ms == house.now_ms
    assert again.visitor.session == signed.visitor.session
    assert house.desk.visitor(signed.token, HOME) is None
    assert house.desk.visitor(again.token, HOME) == again.visitor
    wrong = house.desk.confirm(again.token, "wrong", "", HOME)
    assert wrong == Refused("The password is wrong.", field="password")
    assert isinstance(house.desk.confirm(signed.token, GOOD, "", HOME), Refused)


def test_another_password_ends_the_other_sessions(house: AtDesk) -> None:
    here, there = house.sign_in(), house.sign_in()
    changed = house.desk.change_password(here.token, GOOD, OTHER, HOME)
    assert isinstance(changed, SignedIn)
    assert house.desk.visitor(changed.token, HOME) == changed.visitor
    assert house.desk.visitor(here.token, HOME) is None
    assert house.desk.visitor(there.token, HOME) is None
    assert house.refused(password=GOOD).field == "password"
    house.sign_in(password=OTHER)
    assert ("mara", "password changed", "mara") in house.words()


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [("wrong", OTHER, "old"), (GOOD, "short", "new"), (GOOD, GOOD, "new"), (GOOD, "maramaramaramara", "new")],
)
def test_a_change_that_is_refused_says_at_which_field_and_changes_nothing(
    house: AtDesk, old: str, new: str, field: str
) -> None:
    signed = house.sign_in()
    refused = house.desk.change_password(signed.token, old, new, HOME)
    assert isinstance(refused, Refused)
    assert refused.field == field
    assert house.desk.visitor(signed.token, HOME) == signed.visitor
    house.sign_in(password=GOOD)


def test_sessions_are_listed_and_ended_by_their_owner_alone(house: AtDesk) -> None:
    here, there, jonas = house.sign_in(), house.sign_in(address=AWAY), house.invited("jonas", Role.RESPONDER)
    listed = house.desk.sessions(here.visitor)
    assert [(each.address, each.device, each.is_this) for each in listed] == [
        (AWAY, "Firefox, Android", False),
        (HOME, "Firefox, Android", True),
    ]
    assert jonas.visitor.session is not None
    assert there.visitor.session is not None
    assert not house.desk.end_session(here.visitor, jonas.visitor.session)
    assert not house.desk.end_session(here.visitor, 4711)
    assert house.desk.visitor(jonas.token, AWAY) is not None
    assert house.desk.end_session(here.visitor, there.visitor.session)
    assert house.desk.visitor(there.token, AWAY) is None
    assert house.audit()[-1].old == {"session": there.visitor.session}
    assert not house.desk.end_session(here.visitor, there.visitor.session), "it has ended already"
    more = house.sign_in()
    assert house.desk.end_other_sessions(here.visitor) == 1
    assert house.desk.visitor(more.token, HOME) is None
    assert house.desk.visitor(here.token, HOME) is not None
    assert [each.account for each in house.desk.all_sessions()] == ["jonas", "mara"]


def test_a_session_begun_while_the_clock_was_ahead_gets_one_life_from_when_it_is_right(house: AtDesk) -> None:
    """NIST SP 800-63B section 4.1.3: 30 days, and not the years that the clock was ahead."""
    house.now_ms += 5 * 365 * DAY_MS
    signed = house.sign_in()
    house.now_ms -= 5 * 365 * DAY_MS
    for _ in range(6):
        assert house.desk.visitor(signed.token, HOME) is not None
        house.all_written()
        house.now_ms += 5 * DAY_MS
    assert house.desk.visitor(signed.token, HOME) is None


def test_a_clock_from_before_the_account_was_made_shortens_no_session(house: AtDesk) -> None:
    """A small machine without a clock of its own begins in 1970, and is put right a minute later."""
    signed, now_ms = house.sign_in(), house.now_ms
    house.now_ms = MINUTE_MS
    assert house.desk.visitor(signed.token, HOME) is not None
    house.all_written()
    house.now_ms = now_ms + DAY_MS
    assert house.desk.visitor(signed.token, HOME) is not None


def test_who_is_signed_in_does_not_wait_for_others_in_the_same_house(house: AtDesk) -> None:
    """A visitor who tries names must not keep the keeper from what needs the password again."""
    signed = house.sign_in()
    for number in range(40):
        house.desk.sign_in(f"name{number}", "wrong", "", HOME, PHONE)
    assert "where you are" in house.refused(password=GOOD).reason
    assert isinstance(house.desk.confirm(signed.token, GOOD, "", HOME), SignedIn)
