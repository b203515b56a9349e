"""How well the alarms do their work, as JSON: the measures of ISA-18.2-2016, section 16.4. Pure."""

from daemon.alarm_board_values import MeasuredAlarms
from dashboards.api_values import Json


class FloodJson(Json):
    """Many calls at once: `count` in all, `peak` in the worst ten minutes."""

    start_ms: int
    end_ms: int
    count: int
    peak: int


class AnsweredJson(Json):
    """Minutes from the first call to the acknowledgement, null where there is none; `open`: not acknowledged yet."""

    count: int
    median_min: float | None
    p95_min: float | None
    open: int


class PerformanceJson(Json):
    """What is held against a target. Rates are null where there is too little data, and `too_little` says why.

    By priority: 1 critical, 2 urgent, 3 warning. `floods` are those of the standard, `own_floods` this project's own.
    """

    days: float
    annunciations: int
    too_little: str
    per_day: float | None
    urgent_per_week: float | None
    most_per_10_min: int
    share_of_10_min_above_10: float
    share_of_hours_above_30: float
    floods: list[FloodJson]
    own_floods: list[FloodJson]
    by_priority: dict[int, int]
    split: dict[int, float] | None
    most_per_night: int
    share_of_quiet_nights: float
    answered: dict[int, AnsweredJson]


class DiagnosisJson(Json):
    """Which alarms to look at: `most_frequent` as pairs of alarm and count, `shelved_h` as hours on the shelf."""

    most_frequent: list[tuple[str, int]]
    share_of_top_3: float | None
    chattering: list[str]
    fleeting: list[str]
    stale: list[str]
    standing_at_handover: int
    most_shelved_at_once: int
    shelved_h: dict[str, float]
    longest_on_h: float
    longest_unacknowledged_h: float


class MeasuresJson(Json):
    """Both views of the last `days`. Tests and demonstrations do not count."""

    now_ms: int
    time_zone: str
    days: int
    performance: PerformanceJson
    diagnosis: DiagnosisJson


def measures_json(found: MeasuredAlarms) -> MeasuresJson:
    """Give the measures their JSON form."""
    return MeasuresJson(
        now_ms=found.now_ms,
        time_zone=found.time_zone,
        days=found.days,
        performance=PerformanceJson.model_validate(found.metrics.performance),
        diagnosis=DiagnosisJson.model_validate(found.metrics.diagnosis),
    )
