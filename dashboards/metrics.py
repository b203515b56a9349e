"""The overview and the daemon itself as families of metrics, named by the rules of OpenMetrics 1.0. Pure.

Base units: celsius, kelvin, ratio, seconds, bytes. What is not known has no sample: a 0 or NaN would be averaged and
plotted as if somebody had measured it. Labels come from the site file and from fixed words alone, so that the number of
series is bounded by the site: three for each channel, three for each probe whose board speaks, two for each place with
a climate, five for each clutch that lies in an incubator, and some fifty of the daemon.
"""

from collections.abc import Iterator

from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, InfoMetricFamily, Metric

from config.words import Priority
from daemon.alarms.state_values import Shown
from daemon.inside import Inside
from daemon.overview import Overview
from dashboards.health import health
from dashboards.metrics_boards import board_metrics
from dashboards.metrics_clutches import clutch_metrics
from dashboards.metrics_readings import climate_metrics, reading_metrics
from sensors.reading import Outcome

_ENDED = ("delivered", "abandoned", "superseded")


def metrics_of(overview: Overview, inside: Inside) -> Iterator[Metric]:
    """Give every family at the moment of the overview."""
    yield from reading_metrics(overview)
    yield from climate_metrics(overview)
    yield from clutch_metrics(overview)
    yield _alarms(overview)
    yield from _watch(overview, inside)
    yield from _mirror(overview, inside)
    yield from board_metrics(overview.site_name, inside.boards)
    yield from _messages(overview, inside)


def _alarms(overview: Overview) -> Metric:
    """All combinations, since none of a kind is known to be none."""
    found = GaugeMetricFamily(
        "clutchwarden_alarms",
        "Alarms that are not normal, by state (ISA-18.2 / IEC 62682) and priority (1 is the most urgent).",
        labels=["site", "state", "priority"],
    )
    alarms = [(alarm.state, alarm.priority) for each in overview.watched for alarm in each.alarms]
    for state in Shown:
        if state is not Shown.NORMAL:
            for priority in Priority:
                labels = [overview.site_name, state.value, str(int(priority))]
                found.add_metric(labels, alarms.count((state.value, priority)))
    return found


def _watch(overview: Overview, inside: Inside) -> Iterator[Metric]:
    site = overview.site_name
    build = InfoMetricFamily("clutchwarden_build", "The program that runs.", labels=["site"])
    build.add_metric([site], {"version": inside.version})
    yield build
    well = "1 where the watch works, else 0; /health says why not."
    yield _one("clutchwarden_healthy", well, site, float(health(overview).healthy))
    connected = "1 where the broker is connected, else 0."
    yield _one("clutchwarden_broker_connected", connected, site, float(overview.broker_connected))
    lag = "How long the oldest reading that is stored and not evaluated has waited; 0 where none waits."
    yield _one("clutchwarden_evaluation_lag_seconds", lag, site, inside.evaluation_lag_s, "seconds")
    waiting = "Readings that are stored and not evaluated."
    yield _one("clutchwarden_evaluation_waiting_readings", waiting, site, inside.unevaluated)
    size = "Size of the journal by its own account, as its file will be once all is merged into it."
    yield _one("clutchwarden_journal_size_bytes", size, site, inside.journal_bytes, "bytes")
    if inside.disk_free_bytes is not None:
        free = "Room on the disk of the journal, as the daemon may use it."
        yield _one("clutchwarden_journal_disk_free_bytes", free, site, inside.disk_free_bytes, "bytes")


def _mirror(overview: Overview, inside: Inside) -> Iterator[Metric]:
    site, mirror = overview.site_name, inside.mirror
    if mirror is None:
        return
    lag = "How long the oldest reading that the mirror has not has waited; 0 where it has all."
    yield _one("clutchwarden_mirror_lag_seconds", lag, site, mirror.lag_s, "seconds")
    yield _one("clutchwarden_mirror_waiting_readings", "Readings that the mirror has not.", site, mirror.waiting)
    parked = "Points that the mirror refused, put aside with the reason."
    yield _one("clutchwarden_mirror_parked_points", parked, site, mirror.parked)


def _messages(overview: Overview, inside: Inside) -> Iterator[Metric]:
    site = overview.site_name
    stored = CounterMetricFamily(
        "clutchwarden_samples_stored", "Readings in the journal, since it began.", labels=["site"]
    )
    stored.add_metric([site], overview.samples_stored)
    yield stored
    received = CounterMetricFamily(
        "clutchwarden_probe_messages",
        "Messages of the probes by what became of them, since the journal began.",
        labels=["site", "outcome"],
    )
    for outcome in Outcome:
        received.add_metric([site, outcome.value], inside.messages.get(outcome, 0))
    yield received
    told = "Messages to people that wait to be sent."
    yield _one("clutchwarden_outbox_waiting_messages", told, site, inside.alerts["waiting"])
    sent = CounterMetricFamily(
        "clutchwarden_alert_messages",
        "Messages to people that are done with: delivered, given up, or overtaken by events, since the journal began.",
        labels=["site", "outcome"],
    )
    for state in _ENDED:
        sent.add_metric([site, state], inside.alerts[state])
    yield sent


def _one(name: str, about: str, site: str, value: float, unit: str = "") -> Metric:
    found = GaugeMetricFamily(name, about, labels=["site"], unit=unit)
    found.add_metric([site], value)
    return found
