"""The failure matrix of delivery (X-29): a courier, a journal, and a real receiver that misbehaves in every way.

What 2xx, 3xx, 410 and Retry-After mean is that of Standard Webhooks 1.0.0, deliverability; that an attempt with any
other 4xx except 404, 408, 409 and 429, and with 501 and 505, is the last is common practice of alarm delivery in cold
chains. That a critical call goes on nevertheless is our own rule.
"""

from email.utils import formatdate

import pytest

from config.words import Priority
from daemon.alarms.delivery import MessageKind
from daemon.storage import outbox
from daemon.storage.journal import Journal
from tests.alarms.attempts import FIRST_S, Clock, after_one, wait_s, worker
from tests.alarms.outboxes import NOW_MS, put, rows
from tests.support.receiver import Answer, Manner, Receiver

SLOWLY_S = 1_800
LONGEST_ASKED_S = 3_600


@pytest.mark.parametrize("priority", Priority)
@pytest.mark.parametrize("answer", [Answer(200), Answer(202), Answer(204), Answer(200, manner=Manner.DRIP_BODY)])
def test_2xx_delivers_also_with_a_body_that_never_ends(
    journal: Journal, clock: Clock, receiver: Receiver, answer: Answer, priority: Priority
) -> None:
    receiver.answer_with(answer)
    assert after_one(journal, clock, receiver.url(), priority) == ("delivered", 1, None, "")


@pytest.mark.parametrize("priority", Priority)
@pytest.mark.parametrize("status", [404, 408, 409, 429, 500, 502, 503, 504])
def test_what_may_pass_is_tried_again_by_the_schedule_of_the_priority(
    journal: Journal, clock: Clock, receiver: Receiver, status: int, priority: Priority
) -> None:
    receiver.answer_with(Answer(status))
    row = after_one(journal, clock, receiver.url(), priority)
    assert (row.state, wait_s(row)) == ("waiting", FIRST_S[priority])
    assert str(status) in row.error


@pytest.mark.parametrize("status", [408, 409, 429, 503])
@pytest.mark.parametrize(
    ("asked", "waited_s"),
    [
        ("90", 90),
        ("2", FIRST_S[Priority.HIGH]),
        (formatdate(NOW_MS / 1000 + 240, usegmt=True), 240),
        (formatdate(NOW_MS / 1000 - 240, usegmt=True), FIRST_S[Priority.HIGH]),
        ("999999999", LONGEST_ASKED_S),
        ("9" * 400, LONGEST_ASKED_S),
        (formatdate(NOW_MS / 1000 + 9 * 86_400, usegmt=True), LONGEST_ASKED_S),
        ("after lunch", FIRST_S[Priority.HIGH]),
    ],
)
def test_the_longer_of_the_schedule_and_of_what_the_receiver_asks_for_counts_up_to_an_hour(
    journal: Journal, clock: Clock, receiver: Receiver, status: int, asked: str, waited_s: int
) -> None:
    # The receiver's own Date would be the real one, while the clock of the test stands in another year.
    receiver.answer_with(Answer(status, {"Retry-After": asked, "Date": formatdate(NOW_MS / 1000, usegmt=True)}))
    receiver.send_own_date = False
    assert wait_s(after_one(journal, clock, receiver.url(), Priority.HIGH)) == waited_s


FINAL = [301, 307, 400, 401, 410, 422, 501, 505]


@pytest.mark.parametrize("priority", [Priority.HIGH, Priority.LOW])
@pytest.mark.parametrize("status", FINAL)
def test_a_final_answer_ends_a_message_of_lower_priority(
    journal: Journal, clock: Clock, receiver: Receiver, status: int, priority: Priority
) -> None:
    receiver.answer_with(Answer(status, {"Location": receiver.url("/elsewhere")}))
    row = after_one(journal, clock, receiver.url(), priority)
    assert (row.state, row.attempts, row.next_attempt_at_ms) == ("abandoned", 1, None)
    assert str(status) in row.error
    assert [request.path for request in receiver.received] == ["/"]


@pytest.mark.parametrize("kind", [MessageKind.ALARM, MessageKind.REMINDER])
@pytest.mark.parametrize("status", FINAL)
def test_a_critical_call_is_never_given_up_it_goes_on_slowly_and_is_told_of_from_the_first_refusal(
    journal: Journal, clock: Clock, receiver: Receiver, status: int, kind: MessageKind
) -> None:
    receiver.answer_with(Answer(status, {"Location": receiver.url("/elsewhere")}))
    put(journal, "m", kind=kind)
    turn = worker(journal, clock, receiver.url())
    for attempt in range(1, 9):
        turn()
        assert rows(journal)["m"][:3] == ("waiting", attempt, clock.at_ms + SLOWLY_S * 1000)
        with journal.read() as conn:
            [told] = outbox.undelivered(conn, clock.at_ms - 86_400_000)
        assert (told.contact, told.messages) == ("ada/0", 1)
        assert str(status) in told.error
        clock.at_ms += SLOWLY_S * 1000
    receiver.answer_with(Answer(200))
    turn()
    assert rows(journal)["m"].state == "delivered"
    assert {request.path for request in receiver.received} == {"/"}


def test_an_end_of_an_alarm_that_is_refused_for_good_is_given_up_even_where_the_alarm_was_critical(
    journal: Journal, clock: Clock, receiver: Receiver
) -> None:
    receiver.answer_with(Answer(401))
    put(journal, "m", kind=MessageKind.CLEARED)
    worker(journal, clock, receiver.url())()
    assert rows(journal)["m"].state == "abandoned"


def test_410_makes_the_contact_unusable_for_all_but_calls_until_one_is_accepted(
    journal: Journal, clock: Clock, receiver: Receiver, caplog: pytest.LogCaptureFixture
) -> None:
    receiver.answer_with(Answer(410))
    turn = worker(journal, clock, receiver.url())
    put(journal, "first", priority=Priority.LOW)
    turn()
    put(journal, "unsent", priority=Priority.LOW)
    turn()
    unsent = rows(journal)["unsent"]
    assert (*unsent[:2], "not sent" in unsent.error, "410" in unsent.error) == ("abandoned", 1, True, True)
    put(journal, "urgent", priority=Priority.HIGH)
    turn()
    assert rows(journal)["urgent"].state == "abandoned"
    put(journal, "critical")
    turn()
    assert rows(journal)["critical"].state == "waiting"
    assert [each.headers["clutchwarden-message-id"] for each in receiver.received] == ["first", "urgent", "critical"]
    receiver.answer_with(Answer(200))
    clock.at_ms += SLOWLY_S * 1000
    turn()
    put(journal, "again", priority=Priority.LOW)
    turn()
    assert rows(journal)["again"].state == "delivered"
    assert caplog.text.count("Contact ada/0 is unusable") == 1


def test_a_start_with_another_address_ends_what_410_began(journal: Journal, clock: Clock, receiver: Receiver) -> None:
    receiver.answer_with(Answer(410))
    put(journal, "critical")
    worker(journal, clock, receiver.url())()
    with Receiver() as moved:
        clock.at_ms += SLOWLY_S * 1000
        turn = worker(journal, clock, moved.url())
        put(journal, "low", priority=Priority.LOW)
        turn()
        turn()
        assert {name: row.state for name, row in rows(journal).items()} == {"critical": "delivered", "low": "delivered"}
