"""Wrong passwords: who waits for how long, and what is written down of them."""

import dataclasses

import pytest

from daemon.access import hashing
from daemon.access.values import Role
from daemon.access_ground import MOST_WAITING
from tests.access.desk import AWAY, DAY_MS, GOOD, HOME, HOUR_MS, MINUTE_MS, OTHER, SECOND_MS, AtDesk

WRONG = "Name or password is wrong."


def test_wrong_name_and_wrong_password_are_refused_alike(house: AtDesk) -> None:
    """As often as one likes, in the same words with the same waits: nobody learns which names there are."""
    for step in range(14):
        known, unknown = house.refused("mara", address=f"203.0.113.{step}"), house.refused("nora", address=AWAY)
        assert dataclasses.asdict(known) == dataclasses.asdict(unknown), step
        house.now_ms += 2 * HOUR_MS if step % 3 else SECOND_MS
    assert known.wait_s


@pytest.mark.usefixtures("full_work")
def test_a_wrong_name_costs_as_much_work_as_a_wrong_password(house: AtDesk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The work is that of argon2: it is asked once, with the same parameters, whatever was typed."""
    worked: list[str] = []
    verify = hashing._HASHER.verify

    def counting(kept: str, password: bytes) -> bool:
        worked.append(kept.rsplit("$", 2)[0])
        return verify(kept, password)

    closed = house.invited("jonas", Role.VIEWER)
    house.desk.close(None, closed.visitor.who, "host")
    house.desk.invite(None, "lena", Role.VIEWER, "host")
    monkeypatch.setattr(hashing, "_HASHER", type("Counting", (), {"verify": staticmethod(counting)})())
    for name in ("mara", "nora", "jonas", "lena", "", "\ud800", "a" * 1000):
        assert house.refused(name).reason == WRONG
    assert len(worked) == 7
    assert len(set(worked)) == 1


def test_after_five_wrong_passwords_the_right_one_waits_too(house: AtDesk) -> None:
    reasons = [house.refused(address=AWAY) for _ in range(5)]
    assert [each.wait_s for each in reasons] == [0, 0, 0, 0, 30]
    assert reasons[-1].reason == "Name or password is wrong. Try again in 30 seconds."
    refused = house.refused(password=GOOD, address="203.0.113.1")
    assert refused.reason == "Too many wrong passwords for this name. Try again in 30 seconds."
    assert refused.wait_s == 30
    house.now_ms += 30 * SECOND_MS
    assert house.refused(address=AWAY).wait_s == 60
    house.now_ms += MINUTE_MS
    house.sign_in(address=AWAY)
    assert house.refused(address=AWAY).wait_s == 0, "a right one ends the row"


def test_what_strangers_try_keeps_nobody_out_where_they_were_signed_in(house: AtDesk) -> None:
    for _ in range(6):
        house.refused(address=AWAY)
    assert house.refused(password=GOOD, address="203.0.113.1").wait_s > 0
    house.sign_in(address=HOME)


def test_a_restart_forgets_no_wait(house: AtDesk) -> None:
    for _ in range(5):
        house.refused(address=AWAY)
    house.again()
    assert house.refused(password=GOOD, address=AWAY).wait_s == 30


@pytest.mark.parametrize("back_ms", [SECOND_MS, HOUR_MS, 365 * DAY_MS])
def test_a_clock_set_back_to_before_a_wait_locks_nobody_out(house: AtDesk, back_ms: int) -> None:
    for number in range(12):
        house.now_ms += HOUR_MS
        house.refused(address=f"203.0.113.{number // 5}")
        house.refused(f"n{number}", address=AWAY)
    assert house.refused(password=GOOD, address="203.0.113.9").wait_s == HOUR_MS / SECOND_MS
    assert house.refused(password=GOOD, address=AWAY).reason.startswith("Too many tries from where you are.")
    house.now_ms -= back_ms
    house.sign_in(address=AWAY)


def test_a_clock_set_back_within_a_wait_makes_it_no_longer_than_it_was(house: AtDesk) -> None:
    for number in range(12):
        house.now_ms += HOUR_MS
        house.refused(address=f"203.0.113.{number}")
    house.now_ms += HOUR_MS - 1
    assert house.refused(password=GOOD, address=AWAY).wait_s == 0.001
    house.now_ms -= HOUR_MS - 1
    assert house.refused(password=GOOD, address=AWAY).wait_s == HOUR_MS / SECOND_MS
    house.now_ms += HOUR_MS
    house.sign_in(address=AWAY)


def test_of_101_wrong_passwords_100_are_looked_at_and_then_an_invitation_helps(house: AtDesk) -> None:
    for number in range(100):
        refused = house.refused(address=f"203.0.113.{number}")
        house.now_ms += HOUR_MS
    assert refused.reason.startswith("100 wrong passwords in a row: none is looked at any more.")
    assert house.refused(password=GOOD, address=AWAY).reason == refused.reason
    house.now_ms += 365 * DAY_MS
    assert house.refused(password=GOOD, address=AWAY).reason == refused.reason
    house.invited("mara", Role.KEEPER, OTHER)
    house.sign_in(password=OTHER, address=AWAY)


def test_refusals_are_on_record_once_a_minute_for_each_account_and_address(house: AtDesk) -> None:
    before = len(house.audit())
    for _ in range(3):
        house.refused(address=AWAY)
        house.refused("my secret passphrase", address=AWAY)
    assert house.words()[before:] == [
        ("nobody", "sign-in refused", "mara"),
        ("nobody", "sign-in refused", "a name that nobody has"),
    ]
    assert house.audit()[-1].from_where == AWAY
    house.now_ms += MINUTE_MS
    house.refused(address=AWAY)
    house.refused(address="203.0.113.1")
    assert len(house.audit()) == before + 4


def test_a_flood_of_refusals_fills_no_disk(house: AtDesk) -> None:
    """Addresses and names without end: 600 rows an hour at the most (project choice)."""
    ground = house.desk._sessions._ground
    noted = sum(ground.is_worth_noting("mara", f"2001:db8:{number:x}::1") for number in range(5_000))
    assert noted == 600


def test_too_many_at_once_are_asked_to_wait_a_moment(house: AtDesk) -> None:
    ground = house.desk._sessions._ground
    for _ in range(MOST_WAITING):
        assert ground._waiting.acquire(blocking=False)
    assert house.refused(password=GOOD).reason.startswith("Several people sign in at this moment.")
    for _ in range(MOST_WAITING):
        ground._waiting.release()
    house.sign_in()
