"""Who gets an account and who loses it: the first code, invitations, roles, closing."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from daemon.access.values import Refused, Role, SignedIn, Visitor
from daemon.storage import calendar_feeds
from daemon.storage.audit import HOST
from tests.access.desk import AWAY, DAY_MS, GOOD, HOME, HOUR_MS, OTHER, PHONE, AtDesk

VIEWER, RESPONDER = Visitor("vera", Role.VIEWER, session=None), Visitor("rosa", Role.RESPONDER)


def first_code(at: AtDesk) -> str:
    made = at.desk.first_code(None, HOST)
    assert not isinstance(made, Refused)
    return made[0]


def invitation(at: AtDesk, name: str, role: Role = Role.RESPONDER) -> str:
    made = at.desk.invite(None, name, role, HOST)
    assert not isinstance(made, Refused), made
    return made[0]


def accept(at: AtDesk, code: str, name: str = "", password: str = OTHER, address: str = AWAY) -> SignedIn | Refused:
    return at.desk.accept(code, name, password, address, PHONE)


def refused_at(done: SignedIn | Refused, field: str) -> Refused:
    assert isinstance(done, Refused), done
    assert done.field == field
    return done


def test_the_first_code_makes_the_first_keeper_and_is_good_once(at: AtDesk) -> None:
    assert at.desk.needs_first()
    assert at.desk.accounts() == ()
    code = first_code(at)
    done = accept(at, code.lower().replace("-", ""), "mara", GOOD)
    assert isinstance(done, SignedIn)
    assert (done.visitor.who, done.visitor.role) == ("mara", Role.KEEPER)
    assert at.desk.visitor(done.token, AWAY) == done.visitor
    assert not at.desk.needs_first()
    refused_at(accept(at, code, "nora"), "code")
    assert isinstance(at.desk.first_code(None, HOST), Refused)
    assert [(each.name, each.role, each.has_password) for each in at.desk.accounts()] == [("mara", Role.KEEPER, True)]


def test_it_is_good_for_an_hour_and_until_the_next_one_is_made(at: AtDesk) -> None:
    old = first_code(at)
    new = first_code(at)
    refused_at(accept(at, old, "mara"), "code")
    at.now_ms += HOUR_MS
    refused_at(accept(at, new, "mara"), "code")
    last = first_code(at)
    at.now_ms += HOUR_MS - 1
    assert isinstance(accept(at, last, "mara"), SignedIn)


def test_it_is_good_no_more_once_there_is_a_keeper_by_another_way(at: AtDesk) -> None:
    code = first_code(at)
    at.invited("mara", Role.KEEPER)
    refused_at(accept(at, code, "nora"), "code")


@pytest.mark.parametrize(
    ("name", "password", "field"), [("mara linden", GOOD, "name"), ("", GOOD, "name"), ("mara", "short", "password")]
)
def test_what_is_refused_at_another_field_does_not_use_the_code_up(
    at: AtDesk, name: str, password: str, field: str
) -> None:
    code = first_code(at)
    refused_at(accept(at, code, name, password), field)
    assert isinstance(accept(at, code, "mara", GOOD), SignedIn)


def test_used_old_withdrawn_and_wrong_codes_are_refused_in_the_same_words(house: AtDesk) -> None:
    used, withdrawn = invitation(house, "jonas"), invitation(house, "lena")
    accept(house, used)
    invitation(house, "lena")
    old = invitation(house, "nils")
    house.now_ms += DAY_MS
    answers = {
        accept(house, code, address=f"203.0.113.{n}") for n, code in enumerate((used, withdrawn, old, "X" * 24, ""))
    }
    assert len(answers) == 1
    refused_at(answers.pop(), "code")


def test_whoever_tries_codes_waits_more_and_more(house: AtDesk) -> None:
    waits = []
    for _ in range(12):
        done = accept(house, "0000-0000-0000-0000-0000-0000")
        assert isinstance(done, Refused)
        waits.append(done.wait_s)
    assert waits[:10] == [0] * 10
    assert waits[10] > 0
    code = invitation(house, "jonas")
    assert isinstance(accept(house, code, address=AWAY), Refused)
    assert isinstance(accept(house, code, address=HOME), SignedIn)


def test_an_invitation_knows_its_name(house: AtDesk) -> None:
    code = invitation(house, "jonas", Role.VIEWER)
    refused = refused_at(accept(house, code, "nora"), "name")
    assert '"jonas"' in refused.reason
    done = accept(house, code, "Jonas")
    assert isinstance(done, SignedIn)
    assert (done.visitor.who, done.visitor.role) == ("jonas", Role.VIEWER)


def test_two_who_accept_the_same_code_at_once_are_one(house: AtDesk) -> None:
    code, start = invitation(house, "jonas"), threading.Barrier(4)

    def press(number: int) -> SignedIn | Refused:
        start.wait(10)
        return accept(house, code, password=f"{OTHER} {number}", address=f"203.0.113.{number}")

    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(press, range(4)))
    [won] = [number for number, each in enumerate(answers) if isinstance(each, SignedIn)]
    for number in range(4):
        done = house.desk.sign_in("jonas", f"{OTHER} {number}", "", AWAY, PHONE)
        assert isinstance(done, SignedIn) == (number == won)


def test_a_forgotten_password_is_an_invitation_that_ends_what_was_before(house: AtDesk) -> None:
    before = house.sign_in()
    code = invitation(house, "mara", Role.VIEWER)
    assert house.desk.visitor(before.token, HOME) is not None, "nothing ends before it is used"
    done = accept(house, code)
    assert isinstance(done, SignedIn)
    assert done.visitor.role is Role.KEEPER, "an account that is in use keeps its role"
    assert house.desk.visitor(before.token, HOME) is None
    house.refused(password=GOOD)
    house.sign_in(password=OTHER)
    assert ("mara", "password renewed by invitation", "mara") in house.words()


@pytest.mark.parametrize("by", [VIEWER, RESPONDER])
def test_only_keepers_change_accounts_and_keys(house: AtDesk, by: Visitor) -> None:
    house.invited("jonas", Role.VIEWER)
    before = (house.desk.accounts(), house.desk.keys(), house.audit())
    for done in (
        house.desk.invite(by, "lena", Role.KEEPER, HOME),
        house.desk.set_role(by, "jonas", Role.KEEPER, HOME),
        house.desk.close(by, "jonas", HOME),
        house.desk.add_key(by, "grafter", Role.VIEWER, HOME),
        house.desk.withdraw_key(by, "grafter", HOME),
        house.desk.end_any_session(by, 1, HOME),
    ):
        assert isinstance(done, Refused)
        assert done.reason.startswith("Only a keeper")
    assert (house.desk.accounts(), house.desk.keys(), house.audit()) == before


def test_a_role_counts_from_the_next_page_on_and_a_closed_account_has_none(house: AtDesk) -> None:
    keeper, jonas = house.keeper(), house.invited("jonas", Role.VIEWER)
    assert house.desk.set_role(keeper, "Jonas", Role.RESPONDER, HOME) is None
    seen = house.desk.visitor(jonas.token, AWAY)
    assert seen is not None
    assert seen.role is Role.RESPONDER
    assert house.audit()[-1].old == {"role": "viewer"}
    assert house.desk.close(keeper, "jonas", HOME) is None
    assert house.desk.visitor(jonas.token, AWAY) is None
    assert house.refused("jonas", OTHER).reason == "Name or password is wrong."
    assert isinstance(house.desk.close(keeper, "jonas", HOME), Refused)
    again = house.invited("jonas", Role.VIEWER)
    assert again.visitor.role is Role.VIEWER


def test_closing_ends_an_invitation(house: AtDesk) -> None:
    code = invitation(house, "jonas")
    house.desk.close(None, "jonas", HOST)
    refused_at(accept(house, code), "code")


def test_the_last_keeper_can_be_neither_closed_nor_lowered_not_even_by_the_host(house: AtDesk) -> None:
    invitation(house, "lena", Role.KEEPER)
    for by in (None, house.keeper()):
        for done in (house.desk.close(by, "mara", HOST), house.desk.set_role(by, "mara", Role.VIEWER, HOST)):
            assert isinstance(done, Refused)
            assert done.reason.startswith("This is the last keeper")
    house.invited("jonas", Role.KEEPER)
    assert house.desk.set_role(None, "mara", Role.VIEWER, HOST) is None
    assert isinstance(house.desk.close(None, "jonas", HOST), Refused)


def test_a_keeper_who_is_closed_while_two_remain_leaves_one(house: AtDesk) -> None:
    """Two who close each other at the same moment: one of them stays."""
    house.invited("jonas", Role.KEEPER)
    start = threading.Barrier(2)

    def shut(name: str) -> Refused | None:
        start.wait(10)
        return house.desk.close(None, name, HOST)

    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(shut, ("mara", "jonas")))
    assert sum(each is None for each in answers) == 1
    assert not house.desk.needs_first()


def test_a_key_lets_a_program_in_until_it_is_withdrawn(house: AtDesk) -> None:
    keeper = house.keeper()
    key = house.desk.add_key(keeper, "grafter", Role.VIEWER, HOME)
    assert isinstance(key, str)
    visitor = house.desk.visitor_of_key(key)
    assert visitor == Visitor("grafter", Role.VIEWER)
    house.all_written()
    [listed] = house.desk.keys()
    assert (listed.name, listed.made_by, listed.seen_ms) == ("grafter", "mara", house.now_ms)
    assert isinstance(house.desk.add_key(keeper, "Grafter", Role.VIEWER, HOME), Refused)
    assert house.desk.withdraw_key(keeper, "GRAFTER", HOME) is None
    assert house.desk.visitor_of_key(key) is None
    assert isinstance(house.desk.withdraw_key(keeper, "grafter", HOME), Refused)
    other = house.desk.add_key(keeper, "grafter", Role.RESPONDER, HOME)
    assert other != key
    assert [change.what for change in house.audit()][-3:] == ["key made", "key withdrawn", "key made"]


def test_a_key_and_an_account_never_share_a_name(house: AtDesk) -> None:
    """Both stand in journals as who did something."""
    house.desk.add_key(None, "grafter", Role.VIEWER, HOST)
    assert isinstance(house.desk.add_key(None, "Mara", Role.VIEWER, HOST), Refused)
    assert isinstance(house.desk.invite(None, "Grafter", Role.VIEWER, HOST), Refused)


def test_a_sessions_token_is_no_key_and_a_key_no_token(house: AtDesk) -> None:
    key = house.desk.add_key(None, "grafter", Role.VIEWER, HOST)
    assert isinstance(key, str)
    assert house.desk.visitor(key, HOME) is None
    assert house.desk.visitor_of_key(house.sign_in().token) is None


def test_the_keys_that_somebody_made_end_with_the_account(house: AtDesk) -> None:
    """Whoever is kept out may have copied them."""
    keeper, jonas = house.keeper(), house.invited("jonas", Role.KEEPER)
    theirs = house.desk.add_key(jonas.visitor, "script", Role.KEEPER, AWAY)
    ours = house.desk.add_key(keeper, "grafter", Role.VIEWER, HOME)
    assert isinstance(theirs, str)
    assert isinstance(ours, str)
    house.desk.close(keeper, "jonas", HOME)
    assert house.desk.visitor_of_key(theirs) is None
    assert house.desk.visitor_of_key(ours) is not None
    closed = house.audit()[-1]
    assert (closed.what, closed.new) == ("account closed", {"sessions ended": 1, "keys withdrawn": ["script"]})


def test_a_lower_role_ends_the_keys_that_may_do_more(house: AtDesk) -> None:
    jonas = house.invited("jonas", Role.KEEPER)
    keys = {role: house.desk.add_key(jonas.visitor, f"for-{role}", role, AWAY) for role in Role}
    house.desk.set_role(house.keeper(), "jonas", Role.RESPONDER, HOME)
    good = {role for role, key in keys.items() if isinstance(key, str) and house.desk.visitor_of_key(key) is not None}
    assert good == {Role.VIEWER, Role.RESPONDER}


def test_an_invitation_made_while_the_clock_was_ahead_does_not_last_until_then(house: AtDesk) -> None:
    house.now_ms += 365 * DAY_MS
    code = invitation(house, "jonas")
    house.now_ms -= 365 * DAY_MS
    assert isinstance(accept(house, code), Refused)
    assert isinstance(accept(house, invitation(house, "jonas")), SignedIn)


def test_an_invitation_survives_a_clock_that_is_put_right_by_an_hour(house: AtDesk) -> None:
    code = invitation(house, "jonas")
    house.now_ms -= HOUR_MS
    assert isinstance(accept(house, code), SignedIn)


@pytest.mark.parametrize("change", ["closed", "lowered"])
def test_invitations_end_with_the_right_to_make_them(house: AtDesk, change: str) -> None:
    keeper, jonas = house.keeper(), house.invited("jonas", Role.KEEPER)
    theirs = house.desk.invite(jonas.visitor, "friend", Role.KEEPER, AWAY)
    ours = house.desk.invite(keeper, "rosa", Role.RESPONDER, HOME)
    assert not isinstance(theirs, Refused)
    assert not isinstance(ours, Refused)
    if change == "closed":
        house.desk.close(keeper, "jonas", HOME)
    else:
        house.desk.set_role(keeper, "jonas", Role.RESPONDER, HOME)
    assert isinstance(accept(house, theirs[0]), Refused)
    assert isinstance(accept(house, ours[0], address=HOME), SignedIn)
    assert [each.about for each in house.audit() if (each.new or {}).get("invitations withdrawn") == 1] == ["jonas"]


def test_the_addresses_of_calendars_that_somebody_made_end_with_the_account(house: AtDesk) -> None:
    jonas = house.invited("jonas", Role.KEEPER)
    house.journal.write(lambda conn: calendar_feeds.add(conn, "a", "phone of jonas", jonas.visitor.who, house.now_ms))
    house.journal.write(lambda conn: calendar_feeds.add(conn, "b", "phone of mara", "mara", house.now_ms))
    house.desk.close(house.keeper(), "jonas", HOME)
    with house.journal.read() as conn:
        assert [feed.name for feed in calendar_feeds.in_use(conn)] == ["phone of mara"]
