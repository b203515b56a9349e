"""What an HTTP answer means. Codes and Retry-After by RFC 9110, 429 by RFC 6585."""

from datetime import UTC, datetime

import pytest

from daemon.alarms.answers import judge_answer, retry_after_s
from daemon.alarms.delivery import Delivered, GiveUp, Gone, TryAgain

# The example date of RFC 9110, section 5.6.7, in the three forms that a recipient must read.
IMF, RFC_850, ASCTIME = "Sun, 06 Nov 1994 08:49:37 GMT", "Sunday, 06-Nov-94 08:49:37 GMT", "Sun Nov  6 08:49:37 1994"
IMF_S = datetime(1994, 11, 6, 8, 49, 37, tzinfo=UTC).timestamp()


@pytest.mark.parametrize("status", range(200, 300))
def test_every_2xx_is_success(status: int) -> None:
    assert judge_answer(status, None, None, 0) == Delivered()


@pytest.mark.parametrize("status", [404, 408, 409, 429, 500, 502, 503, 504, 507, 599])
def test_a_passing_failure_is_tried_again(status: int) -> None:
    assert isinstance(judge_answer(status, None, None, 0), TryAgain)


@pytest.mark.parametrize(
    "status", [300, 301, 302, 303, 307, 308, 400, 401, 403, 405, 410, 413, 422, 451, 501, 505, 999]
)
def test_a_lasting_failure_is_given_up_with_the_code_in_the_sentence(status: int) -> None:
    answer = judge_answer(status, None, None, 0)
    assert isinstance(answer, GiveUp)
    assert str(status) in answer.error


@pytest.mark.parametrize("status", [408, 409, 429, 500, 502, 503, 504])
def test_retry_after_is_heard_with_every_answer_that_lets_try_again(status: int) -> None:
    assert judge_answer(status, "120", None, 0) == TryAgain(f"the receiver answered {status}", 120)


def test_410_alone_says_that_the_address_is_gone() -> None:
    gone = [status for status in range(200, 600) if isinstance(judge_answer(status, None, None, 0), Gone)]
    assert gone == [410]


@pytest.mark.parametrize("date", [IMF, RFC_850, ASCTIME])
def test_a_date_in_each_form_of_rfc_9110_is_read_as_gmt(date: str) -> None:
    assert retry_after_s(date, None, IMF_S - 90) == 90


def test_a_date_is_measured_from_the_receivers_own_clock_where_it_tells_it() -> None:
    """A board without a battery clock believes that it is 1970."""
    assert retry_after_s("Sun, 06 Nov 1994 08:50:37 GMT", IMF, 0) == 60


def test_a_date_in_the_past_asks_for_no_wait() -> None:
    assert retry_after_s(IMF, None, IMF_S + 5) == 0


@pytest.mark.parametrize("text", [None, "", "soon", "-5", "1.5", "²", "Sun, 99 Nov 1994 08:49:37 GMT"])
def test_an_unusable_retry_after_is_ignored(text: str | None) -> None:
    assert retry_after_s(text, None, 0) is None
