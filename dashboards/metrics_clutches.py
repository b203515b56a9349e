"""Clutches that lie in an incubator now, as families of metrics. Pure."""

from collections.abc import Iterator

from prometheus_client.core import GaugeMetricFamily, InfoMetricFamily, Metric

from daemon.overview import ClutchNow, Overview
from dashboards.metrics_places import PLACE_LABELS, place_labels

_CLUTCH = ("site", "clutch")


def clutch_metrics(overview: Overview) -> Iterator[Metric]:
    """Give what each clutch is and where, its heat, and its share of development."""
    about = InfoMetricFamily("clutchwarden_clutch", "Which clutch it is and where it lies.", labels=_CLUTCH)
    heat = GaugeMetricFamily(
        "clutchwarden_clutch_heat_degree_hours",
        "Heat since laying: the best figure, and low and high between which it lies at about 95 %.",
        labels=[*_CLUTCH, "estimate"],
        unit="degree_hours",
    )
    development = GaugeMetricFamily(
        "clutchwarden_clutch_development_ratio",
        "Share of development that is done; may pass 1 before the eggs hatch.",
        labels=_CLUTCH,
        unit="ratio",
    )
    for incubator in overview.incubators:
        for clutch in incubator.clutches:
            labels = [overview.site_name, str(clutch.clutch_id)]
            about.add_metric(labels, _about(overview.site_name, clutch))
            for estimate, value in _heats(clutch):
                heat.add_metric([*labels, estimate], value)
            if clutch.share is not None:
                development.add_metric(labels, clutch.share)
    yield from (about, heat, development)


def _about(site: str, clutch: ClutchNow) -> dict[str, str]:
    place = dict(zip(PLACE_LABELS, place_labels(site, clutch.place), strict=True))
    del place["site"]
    return {"label": clutch.label, "species": clutch.species_id, **place}


def _heats(clutch: ClutchNow) -> Iterator[tuple[str, float]]:
    bounds = (
        ("low", clutch.degree_hours_low_ch),
        ("best", clutch.degree_hours_ch),
        ("high", clutch.degree_hours_high_ch),
    )
    for estimate, value in bounds:
        if value is not None:
            yield estimate, value
