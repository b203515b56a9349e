"""What the boards beside the incubators say of themselves, as families of metrics. Pure.

A board that has not spoken has no sample: three series for each probe whose agent has.
"""

from collections.abc import Iterator, Mapping

from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric

from sensors.board_state import BoardState

_LABELS = ("site", "probe")


def board_metrics(site: str, boards: Mapping[str, BoardState]) -> Iterator[Metric]:
    """Give what waits on each board, how full its room for that is, and what it has lost."""
    waiting = GaugeMetricFamily(
        "clutchwarden_board_waiting_readings", "Readings on the board that the broker has not.", labels=_LABELS
    )
    full = GaugeMetricFamily(
        "clutchwarden_board_spool_full_ratio",
        "How much of its room for unsent readings the board has taken.",
        labels=_LABELS,
        unit="ratio",
    )
    lost = CounterMetricFamily(
        "clutchwarden_board_lost_readings",
        "Readings that the board has lost by its own word, since its spool was begun.",
        labels=_LABELS,
    )
    for probe, state in boards.items():
        if state.waiting is not None:
            waiting.add_metric([site, probe], state.waiting)
        if state.full is not None:
            full.add_metric([site, probe], state.full)
        lost.add_metric([site, probe], state.lost)
    yield from (waiting, full, lost)
