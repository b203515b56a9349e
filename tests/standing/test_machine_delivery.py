"""When a contact counts as one that alerts do not reach. Three attempts over ten minutes: project choice."""

import pytest

from config.words import AlarmKind
from daemon.standing.delivery import delivery_failing
from daemon.storage.deliveries import Failing

MINUTE_MS = 60_000


def holds(failures: int, minutes: float, *, gone: bool = False) -> bool:
    failing = Failing("mara/0", failures, 0, gone, "the receiver answered 401")
    return delivery_failing(failing, "Mara", int(minutes * MINUTE_MS)) is not None


@pytest.mark.parametrize(
    ("failures", "minutes", "expected"), [(1, 600, False), (2, 600, False), (3, 9.99, False), (3, 10, True)]
)
def test_it_takes_several_failures_over_some_time(failures: int, minutes: float, expected: bool) -> None:
    assert holds(failures, minutes) is expected


def test_an_address_that_is_gone_is_told_at_once() -> None:
    assert holds(1, 0, gone=True)


def test_it_says_who_is_not_reached_and_why_without_an_address() -> None:
    found = delivery_failing(Failing("mara/1", 4, 0, False, "the receiver refused the connection."), "Mara", 720_000)
    assert found is not None
    assert (found.kind, found.subject, found.about) == (AlarmKind.DELIVERY_FAILING, "mara/1", "Mara")
    assert found.reason == "4 attempts in 12 min failed; the last one: the receiver refused the connection"
    assert found.since_ms == 0
    gone = delivery_failing(Failing("mara/1", 1, 0, True, "the receiver answered 410; give it a new url"), "Mara", 1)
    assert gone is not None
    assert gone.reason == "the receiver answered 410; give it a new url"
