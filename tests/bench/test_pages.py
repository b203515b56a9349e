"""A small copy of what `make bench` measures of the pages, with room for a machine that is busy with other tests.

The bounds are those of the promises although the journal is a small part of theirs: what grows with history, or is
worked out for each phone anew, breaks them. Processor time is held to them: the wall time has that of others in it.
"""

from pathlib import Path

import pytest

from tests.bench import big_site, pages, phones

READINGS, DAYS = 100_000, 60
CLUTCHES = 10
ALARM_EVENTS = 3_000


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("big")
    big_site.make(made, READINGS, CLUTCHES, ALARM_EVENTS, DAYS)
    return made


def test_every_page_is_there_in_time_and_light(folder: Path) -> None:
    costs = pages.page_costs(folder, 5)
    assert len(costs) >= 9
    for cost in costs:
        assert cost.cpu_p95_ms <= cost.page.goal_ms, cost
        assert cost.wire_bytes <= pages.HEAVIEST_BYTES, cost
    weighed = {cost.page.name for cost in costs if cost.wire_bytes}
    assert {"Now", "clutch list", "clutch page", "alarms"} <= weighed


def test_a_year_of_all_channels_costs_a_few_times_what_the_rows_cost_alone(folder: Path) -> None:
    ratio = pages.year_ratio(folder, 3)
    assert ratio.whole_ms < 6 * ratio.bare_ms


def test_open_phones_cost_a_part_of_one_core_and_each_hears_of_every_change(folder: Path) -> None:
    cost = phones.phone_cost(folder, phones=10, seconds=6)
    assert cost.with_phones < phones.GOAL_SHARE
    # Each fetched its first page, and at least one more for a change.
    assert cost.fewest >= 2
