"""What an alarm is called in its journal and measures, where only its key is left."""

import pytest

from config.places import Places
from config.words import AlarmKind
from daemon.alarm_called import names_of
from daemon.alarm_names import AlarmNames, key_of_occurrence
from daemon.alarms.wrong import WRONG
from dashboards.alarm_steps import EVENT_WORDS
from tests.rounds.bench import S2, Bench
from tests.rounds.conftest import bench  # noqa: F401 - a fixture

LOW = "South cabinet, low shelf"


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("condensation:north/upper/N1", "North cabinet, upper shelf, box N1: water on the lid"),
        (f"condensation:{S2}", f"{LOW}, the blue box: water on the lid"),
        ("temperature-high:north-air/air", "North cabinet, upper shelf: too warm (probe north-air)"),
        (
            "probes-disagree:box-s1/air+north-air/air",
            f"{LOW}, box S1: probes disagree (probes box-s1 and north-air)",
        ),
        ("round-overdue:north", "North cabinet: round overdue"),
        ("no-readings-of-old:gone", "no-readings-of-old:gone"),
        ("no-data:gone/air", "gone/air: no readings"),
        ("delivery-failing:ana/0", "Ana: gets no alerts"),
        ("broker-lost:broker", "Test house: broker lost"),
        ("near-pipping:clutch-1", "Clutch Juniper: near pipping"),
        ("near-pipping:clutch-9", "clutch-9: near pipping"),
    ],
)
def test_a_key_has_a_name_for_people(bench: Bench, key: str, expected: str) -> None:  # noqa: F811
    bench.clutch("Juniper")
    with bench.journal.read() as conn:
        assert names_of(conn, bench.site, Places(bench.site), [key]) == {key: expected}


def test_no_kind_shows_its_id(bench: Bench) -> None:  # noqa: F811
    names = AlarmNames(bench.site, Places(bench.site), {}, {})
    for kind in AlarmKind:
        told = names.of(f"{kind}:north")
        assert told.endswith(WRONG[kind])
        assert kind.value not in told


def test_an_occurrence_has_the_key_of_its_alarm() -> None:
    assert key_of_occurrence("temperature-high:north-air/air:1780000000000") == "temperature-high:north-air/air"
    assert key_of_occurrence("near-pipping:clutch-1") == "near-pipping:clutch-1"


def test_the_steps_say_what_happened_in_words() -> None:
    assert EVENT_WORDS["time"] == "time had passed"
    assert EVENT_WORDS["on"] == "began"
