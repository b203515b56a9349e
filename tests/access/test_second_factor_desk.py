"""The second factor at the desk: from the first code on it is asked for, each code once."""

import pyotp
import pytest

from daemon.access.session_life import CONFIRMED_FOR_MS
from daemon.access.values import Refused, Role, SignedIn
from daemon.access_check import Passed, PasswordCheck, settle
from daemon.access_ground import Ground
from daemon.storage.accounts import Kept
from daemon.storage.audit import HOST
from tests.access.desk import AWAY, GOOD, HOME, HOUR_MS, OTHER, PHONE, AtDesk

SHORT = "7tk2-9xqd"
WRONG = Refused("changed meanwhile")


def code_of(secret: str, at: AtDesk, steps: int = 0) -> str:
    """What an authenticator shows, by the library that RFC 6238's vectors are checked against beside this."""
    return pyotp.TOTP(secret).at(at.now_ms // 1000 + 30 * steps)


@pytest.fixture
def secret(house: AtDesk) -> str:
    """Mara's second factor."""
    signed = house.sign_in()
    drawn, uri = house.desk.begin_second_factor(signed.visitor)
    assert drawn in uri
    assert house.desk.finish_second_factor(signed.token, drawn, code_of(drawn, house), HOME) is None
    house.now_ms += 30_000
    return drawn


def test_it_is_asked_for_at_its_field_and_that_is_no_wrong_password(house: AtDesk, secret: str) -> None:
    for _ in range(10):
        assert house.refused(password=GOOD).field == "code"
    house.sign_in(code=code_of(secret, house))
    assert [each.has_second_factor for each in house.desk.accounts()] == [True]


def test_a_code_is_good_once(house: AtDesk, secret: str) -> None:
    code = code_of(secret, house)
    house.sign_in(code=code)
    refused = house.refused(password=GOOD, code=code)
    assert refused.field == "code"
    assert "used before" in refused.reason


def test_wrong_codes_are_counted_as_wrong_passwords_are(house: AtDesk, secret: str) -> None:
    right = code_of(secret, house)
    wrong = f"{(int(right) + 1) % 1_000_000:06}"
    assert [house.refused(password=GOOD, code=wrong).wait_s for _ in range(5)] == [0, 0, 0, 0, 30]
    assert house.refused(password=GOOD, code=right).wait_s == 30


def test_a_wrong_password_with_a_right_code_says_nothing_of_the_code(house: AtDesk, secret: str) -> None:
    refused = house.refused(password="wrong", code=code_of(secret, house))
    assert refused == house.refused("nora", "wrong", code="123456")


def test_the_password_given_again_asks_for_it_too(house: AtDesk, secret: str) -> None:
    signed = house.sign_in(code=code_of(secret, house))
    done = house.desk.confirm(signed.token, GOOD, "", HOME)
    assert isinstance(done, Refused)
    assert done.field == "code"
    house.now_ms += 30_000
    assert isinstance(house.desk.confirm(signed.token, GOOD, code_of(secret, house), HOME), SignedIn)


def test_a_short_password_is_enough_with_it_and_keeps_it(house: AtDesk, secret: str) -> None:
    signed = house.sign_in(code=code_of(secret, house))
    changed = house.desk.change_password(signed.token, GOOD, SHORT, HOME)
    assert isinstance(changed, SignedIn)
    kept = house.desk.drop_second_factor(changed.token, SHORT, HOME)
    assert kept is not None
    assert kept.field == "password"
    long = house.desk.change_password(changed.token, SHORT, OTHER, HOME)
    assert isinstance(long, SignedIn)
    assert house.desk.drop_second_factor(long.token, OTHER, HOME) is None
    house.sign_in(password=OTHER)
    assert [change.what for change in house.audit()].count("second factor off") == 1


def test_a_wrong_password_drops_nothing(house: AtDesk, secret: str) -> None:
    signed = house.sign_in(code=code_of(secret, house))
    assert isinstance(house.desk.drop_second_factor(signed.token, "wrong", HOME), Refused)
    assert house.refused(password=GOOD).field == "code"


def test_it_begins_with_a_right_code_and_a_password_given_lately(house: AtDesk) -> None:
    signed = house.sign_in()
    drawn, _ = house.desk.begin_second_factor(signed.visitor)
    code = code_of(drawn, house)
    wrong = house.desk.finish_second_factor(signed.token, drawn, f"{(int(code) + 1) % 1_000_000:06}", HOME)
    assert wrong is not None
    assert wrong.field == "code"
    weak = house.desk.finish_second_factor(signed.token, "AAAA", "000000", HOME)
    assert weak is not None
    assert weak.field == "secret"
    house.now_ms += HOUR_MS
    late = house.desk.finish_second_factor(signed.token, drawn, code_of(drawn, house), HOME)
    assert late is not None
    assert late.field == "confirm"
    house.sign_in()


def test_an_invitation_helps_whoever_lost_it(house: AtDesk, secret: str) -> None:
    made = house.desk.invite(None, "mara", Role.KEEPER, HOST)
    assert not isinstance(made, Refused)
    assert isinstance(house.desk.accept(made[0], "", OTHER, AWAY, PHONE), SignedIn)
    house.sign_in(password=OTHER)


def test_a_code_is_good_once_also_for_two_who_give_it_at_the_same_moment(house: AtDesk, secret: str) -> None:
    """Both are looked at before either is written down: the check stands before the writer's queue."""
    code = code_of(secret, house)
    check = PasswordCheck(Ground(house.journal, house.site, lambda: house.now_ms))
    first, second = check.check("mara", GOOD, code, HOME), check.check("mara", GOOD, code, HOME)
    assert isinstance(first, Passed)
    assert isinstance(second, Passed)
    assert isinstance(house.journal.write(lambda conn: settle(conn, first, WRONG)), Kept)
    refused = house.journal.write(lambda conn: settle(conn, second, WRONG))
    assert isinstance(refused, Refused)
    assert refused.field == "code"


def test_a_second_factor_that_begins_while_somebody_signs_in_is_asked_for(house: AtDesk) -> None:
    check = PasswordCheck(Ground(house.journal, house.site, lambda: house.now_ms))
    passed = check.check("mara", GOOD, "", HOME)
    assert isinstance(passed, Passed)
    signed = house.sign_in()
    drawn, _ = house.desk.begin_second_factor(signed.visitor)
    assert house.desk.finish_second_factor(signed.token, drawn, code_of(drawn, house), HOME) is None
    assert house.journal.write(lambda conn: settle(conn, passed, WRONG)) is WRONG


def test_it_is_not_dropped_by_a_password_alone(house: AtDesk, secret: str) -> None:
    """Whoever has a browser that is signed in, and the password, still needs the code."""
    signed = house.sign_in(code=code_of(secret, house))
    house.now_ms += HOUR_MS
    changed = house.desk.change_password(signed.token, GOOD, OTHER, HOME)
    assert isinstance(changed, SignedIn)
    assert not changed.visitor.has_confirmed(house.now_ms, CONFIRMED_FOR_MS)
    refused = house.desk.drop_second_factor(changed.token, OTHER, HOME)
    assert refused is not None
    assert refused.field == "confirm"
    confirmed = house.desk.confirm(changed.token, OTHER, code_of(secret, house), HOME)
    assert isinstance(confirmed, SignedIn)
    assert house.desk.drop_second_factor(confirmed.token, OTHER, HOME) is None
