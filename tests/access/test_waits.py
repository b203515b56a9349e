"""Waits after wrong passwords: NIST SP 800-63B section 5.2.2, and what is the project's choice within it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.access.addresses import MOST_KEPT, Counts, Seldom, grouped, one_more_of_address
from daemon.access.waiting import Tries, one_more, wait_words

HOUR_MS = 3_600_000


def after(failures: int, now_ms: int = 0) -> Tries:
    tries = Tries()
    for _ in range(failures):
        tries = one_more(tries, now_ms)
    return tries


def test_five_tries_then_half_a_minute_doubling_up_to_an_hour() -> None:
    assert [after(count).wait_ms // 1000 for count in range(14)] == [
        *(0, 0, 0, 0, 0),
        *(30, 60, 120, 240, 480, 960, 1920),
        *(3600, 3600),
    ]


def test_after_a_hundred_in_a_row_none_is_looked_at() -> None:
    assert not after(99).are_used_up
    assert after(100).are_used_up


def test_a_wait_counts_down_and_ends() -> None:
    tries = after(5, 1_000_000)
    assert tries.left_ms(1_000_000) == 30_000
    assert tries.left_ms(1_029_999) == 1
    assert tries.left_ms(1_030_000) == 0


@given(st.integers(0, 150), st.integers(0, 2**45), st.integers(0, 2**45))
def test_at_no_moment_of_any_clock_is_more_than_an_hour_left(failures: int, then_ms: int, now_ms: int) -> None:
    assert 0 <= after(failures, then_ms).left_ms(now_ms) <= HOUR_MS


@given(st.integers(0, 150), st.integers(1, 2**45), st.integers(1, 2**45))
def test_a_clock_set_back_to_before_a_wait_ends_it(failures: int, then_ms: int, back_ms: int) -> None:
    assert after(failures, then_ms).left_ms(max(0, then_ms - back_ms)) == 0


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.2, "1 second"),
        (30, "30 seconds"),
        (90, "90 seconds"),
        (91, "2 minutes"),
        (300, "5 minutes"),
        (3600, "an hour"),
    ],
)
def test_a_wait_in_words(seconds: float, words: str) -> None:
    assert wait_words(seconds) == words


def test_an_address_waits_from_the_tenth_failure_on_and_never_long() -> None:
    tries, waits = Tries(), []
    for _ in range(20):
        tries = one_more_of_address(tries, 0)
        waits.append(tries.wait_ms // 1000)
    assert waits == [0] * 9 + [2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300]


def test_counts_are_forgotten_in_time_and_the_oldest_where_there_are_too_many() -> None:
    counts = Counts(one_more_of_address, HOUR_MS)
    counts.failed("a", 0)
    assert counts.of("a", HOUR_MS).failures == 1
    assert counts.of("a", HOUR_MS + 1).failures == 0
    for number in range(MOST_KEPT):
        counts.failed(str(number), 0)
    assert counts.of("a", 0).failures == 0
    assert counts.of("0", 0).failures == 1


def test_what_is_said_seldom_is_said_once_in_its_time_and_so_often_in_an_hour() -> None:
    seldom = Seldom(60_000, 3)
    assert [seldom.lets("a", at_ms) for at_ms in (0, 59_999, 60_000)] == [True, False, True]
    assert [seldom.lets(name, 70_000) for name in ("b", "c", "d")] == [True, False, False]
    assert seldom.lets("d", HOUR_MS)
    assert seldom.lets("d", 0), "the clock was set back"


def test_all_addresses_of_an_ipv6_site_are_one() -> None:
    """RFC 3849 documentation addresses; a site's network has 64 bits (RFC 4291 section 2.5.4)."""
    assert grouped("2001:db8:0:1::1") == grouped("2001:db8:0:1:ffff::2")
    assert grouped("2001:db8:0:1::1") != grouped("2001:db8:0:2::1")
    assert grouped("192.0.2.1") != grouped("192.0.2.2")
    assert grouped("::ffff:192.0.2.1") == "192.0.2.1"
    assert grouped("testclient") == grouped("") == ""
