"""`make bench`: every ratio that the project promises, from one run on this machine."""

from tests.bench.charts import chart_cost
from tests.bench.heat import season_ratio
from tests.bench.ingest import ingest_ratio
from tests.bench.journal import append_ratio
from tests.bench.latency import alert_latency
from tests.bench.update import update_cost


def main() -> None:
    """Measure and print."""
    print(f"journal append / bare executemany: {append_ratio():.2f} (goal at least 0.6)")
    print(f"heat of a season / numpy.trapezoid: {season_ratio():.2f} times as long (goal at most 1.5)")
    cost = update_cost()
    print(
        f"a new reading, heat of 60 clutches: {cost.late_us:.0f} µs on day 120 (goal at most 50), "
        f"{cost.early_us:.0f} µs on day 2: {cost.slope_us_per_day:+.2f} µs per day of history"
    )
    ratio, per_second = ingest_ratio()
    print(f"ingest / a consumer that does nothing: {ratio:.2f} (goal at least 0.7); {per_second:,.0f} messages/s")
    latency = alert_latency()
    print(
        f"confirmed condition to receiver, 64 probes at 1 Hz: 95 of 100 within {latency.p95_s:.2f} s (goal 2), "
        f"99 within {latency.p99_s:.2f} s (goal 5), longest {latency.longest_s:.2f} s"
    )
    charts = chart_cost()
    print(
        f"a year of chart data, 7 M readings: 95 of 100 within {charts.four_p95_ms:.0f} ms with 4 channels, "
        f"{charts.all_p95_ms:.0f} ms with 20 (goal 150); rolling up costs {charts.roll_up_us:.1f} µs a reading"
    )


if __name__ == "__main__":
    main()
