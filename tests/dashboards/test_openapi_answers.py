"""Every address for programs against its own description, with any wish that the description allows, and with others.

schemathesis makes the wishes and judges the answers: no fault, an answer in the described form and type, no status that
is not described, and none without the key of a program. The app is the real one behind the real door, on a real journal
with something on every page.
"""

from collections.abc import Iterator, Mapping
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import GenerationMode
from schemathesis.specs.openapi import checks

from daemon.access.values import Role
from dashboards.access.policy import needed_role
from tests.support.called import LETHAL
from tests.support.whole import WholeHouse, whole_house

EXAMPLES = 25
STEADY = settings(
    max_examples=EXAMPLES, derandomize=True, deadline=None, database=None, suppress_health_check=list(HealthCheck)
)
SERIES = {"channel": ["north-air/air", "north-air/rh"], "from": "2026-05-27", "until": "", "width": "50"}
PAGED = (
    *("GET /api/alarms/journal", "GET /api/alarms/events", "GET /api/incidents", "GET /api/rounds"),
    *("GET /api/clutches/closed", "GET /api/set-up/audit", "GET /api/backups/runs"),
)
THERE: Mapping[str, dict[str, Any]] = {
    "GET /api/clutches/{number}": {"path_parameters": {"number": "1"}},
    "GET /api/clutches/{number}/placement": {"path_parameters": {"number": "1"}},
    "GET /api/placement": {"query": {"species": "elaphe-taeniura"}},
    "GET /api/alarms/of/{key}": {"path_parameters": {"key": LETHAL}},
    "GET /api/probes/{probe_id}": {"path_parameters": {"probe_id": "north-air"}},
    "GET /api/species/{species_id}": {"path_parameters": {"species_id": "elaphe-taeniura"}},
    "GET /api/rounds/{number}": {"path_parameters": {"number": 1}},
    "GET /api/incidents/{number}": {"path_parameters": {"number": 1}},
    "GET /api/review": {"query": {"since": "2026-05-28T20:00Z", "until": ""}},
    "GET /api/series": {"query": SERIES},
    "GET /api/series.csv": {"query": SERIES},
    "GET /api/readings": {"query": {"channel": "north-air/air", "from": "2026-05-27", "until": "", "limit": 7}},
    **{each: {"query": {"limit": 7}} for each in PAGED},
}
"""What is there to be asked for, where a wish at random would never hit it."""


def _sound(found: Any) -> Any:
    """An address whose description can be read; fails with what is wrong with it."""
    return found.ok()


class Program:
    """A program with the key of a viewer, which is the least that reads; with that of a keeper where one is needed."""

    def __init__(self, house: WholeHouse) -> None:
        self._house = house
        schema = schemathesis.openapi.from_asgi("/openapi.json", house.app, headers=house.viewer).include(method="GET")
        self.operations: list[Any] = [_sound(found) for found in schema.get_all_operations()]

    def headers(self, case: Any) -> Mapping[str, str]:
        """The key that an address takes."""
        return self._house.keeper if needed_role("GET", case.path) is Role.KEEPER else self._house.viewer


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    with whole_house(tmp_path_factory.mktemp("whole")) as made:
        yield Program(made)


def has_wishes(operation: Any) -> bool:
    return any((operation.path_parameters, operation.query))


@pytest.mark.parametrize("mode", list(GenerationMode))
def test_every_answer_is_as_described(program: Program, mode: GenerationMode, subtests: pytest.Subtests) -> None:
    """Wishes as described, and such that are not: odd numbers, other types, repeated and unknown ones."""
    assert len(program.operations) > 10
    # What is odd may be taken in good part, and what reads well may name nothing that is there. Its own key is
    # replaced by ours.
    left_out = [checks.negative_data_rejection, checks.positive_data_acceptance, checks.ignored_auth]
    for operation in program.operations:
        if mode is GenerationMode.NEGATIVE and not has_wishes(operation):
            continue

        @STEADY
        @given(case=operation.as_strategy(generation_mode=mode))
        def answered(case: Any) -> None:
            case.call_and_validate(headers=program.headers(case), excluded_checks=left_out)

        with subtests.test(operation.label):
            answered()


def test_what_is_there_is_answered_as_described(program: Program, subtests: pytest.Subtests) -> None:
    for operation in program.operations:

        @settings(STEADY, max_examples=1)
        @given(case=operation.as_strategy(**THERE.get(operation.label, {})))
        def answered(case: Any) -> None:
            answer = case.call_and_validate(headers=program.headers(case), excluded_checks=[checks.ignored_auth])
            assert answer.status_code == 200

        with subtests.test(operation.label):
            answered()


def test_without_a_key_nothing_is_answered_but_whether_the_watch_works(
    program: Program, subtests: pytest.Subtests
) -> None:
    """Also with one that nobody was given: schemathesis makes some up."""
    for operation in program.operations:

        @settings(STEADY, max_examples=5)
        @given(case=operation.as_strategy(**THERE.get(operation.label, {})))
        def refused(case: Any) -> None:
            answer = case.call_and_validate(
                base_url="http://127.0.0.1", excluded_checks=[checks.positive_data_acceptance]
            )
            assert answer.status_code == (200 if case.path == "/health" else 401)

        with subtests.test(operation.label):
            refused()
