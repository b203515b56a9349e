"""What answers mean, and that halving finds exactly the bad lines."""

import math

from hypothesis import given
from hypothesis import strategies as st

from daemon.mirror.answers import NOTHING_TAKEN, Answer, Meaning, meaning, one_line, settle
from daemon.mirror.backoff import FIRST_S, LONGEST_ASKED_S, LONGEST_S, wait_s


def test_the_meaning_of_each_status() -> None:
    # RFC 9110: 400, 413 and 422 are about what was sent; 401, 403, 404, 429 and 5xx are not about its lines.
    told = {status: meaning(Answer(status)) for status in (200, 204, 400, 422, 413, 0, 401, 403, 404, 429, 500, 503)}
    assert told == {
        200: Meaning.TAKEN,
        204: Meaning.TAKEN,
        400: Meaning.REFUSED,
        422: Meaning.REFUSED,
        413: Meaning.TOO_LARGE,
        **dict.fromkeys((0, 401, 403, 404, 429, 500, 503), Meaning.WAIT),
    }
    assert meaning(Answer(400, "partial write: points beyond retention policy dropped=3")) is Meaning.PAST


@given(st.integers(1, 400), st.data())
def test_halving_finds_the_bad_lines_and_sends_every_other_one(count: int, data: st.DataObject) -> None:
    bad = data.draw(st.sets(st.integers(0, count - 1), max_size=min(count - 1, NOTHING_TAKEN - 1)))
    taken: set[int] = set()

    def send(first: int, end: int) -> Answer:
        part = set(range(first, end))
        # As an engine does that stores the good ones of a partial write, and as one that stores none.
        if part & bad:
            return Answer(400, "bad")
        taken.update(part)
        return Answer(204)

    settled = settle(count, send)
    assert settled.wait is None
    assert [each.place for each in settled.refused] == sorted(bad)
    assert taken == set(range(count)) - bad


def test_one_bad_line_of_five_thousand_costs_few_requests() -> None:
    asked = []

    def send(first: int, end: int) -> Answer:
        asked.append((first, end))
        return Answer(400) if first <= 3456 < end else Answer(204)

    assert [each.place for each in settle(5000, send).refused] == [3456]
    # By halving: the whole, and two halves on each of the levels down to one line.
    assert len(asked) <= 1 + 2 * math.ceil(math.log2(5000))


def test_one_that_refuses_every_line_is_left_alone_soon() -> None:
    asked = []

    def send(first: int, end: int) -> Answer:
        asked.append(end - first)
        return Answer(400, "no")

    settled = settle(5000, send)
    assert settled.wait is not None
    assert settled.wait.reason == "no"
    assert not settled.refused
    assert len(asked) < 100


def test_one_that_asks_to_wait_in_the_middle_ends_it() -> None:
    answers = iter([Answer(400), Answer(204), Answer(503, "busy", 7.0)])
    settled = settle(4, lambda _first, _end: next(answers))
    assert settled.wait == Answer(503, "busy", 7.0)


def test_no_lines_are_no_request() -> None:
    assert settle(0, lambda _first, _end: Answer(500)).wait is None


@given(st.integers(0, 2000), st.none() | st.floats(0, 1e9))
def test_pauses_grow_within_bounds(failures: int, asked_s: float | None) -> None:
    pause_s = wait_s(failures, asked_s)
    assert 0 <= pause_s <= LONGEST_ASKED_S
    if failures:
        assert pause_s >= FIRST_S
        assert wait_s(failures + 1, asked_s) >= pause_s
        assert pause_s >= min(asked_s or 0.0, LONGEST_ASKED_S)
    if asked_s is None:
        assert pause_s <= LONGEST_S


def test_pauses_double() -> None:
    # By hand: 0.2 s, then twice as long each time, up to 300 s.
    assert [wait_s(failures) for failures in (0, 1, 2, 3, 11, 12)] == [0.0, 0.2, 0.4, 0.8, 204.8, 300.0]


def test_what_a_server_says_is_one_short_line_without_the_secret() -> None:
    assert one_line("  no\n such\tsecret-1 ", "secret-1") == "no such ***"
    assert len(one_line("x" * 5000)) == 300
