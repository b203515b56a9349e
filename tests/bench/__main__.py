"""`make bench`: every ratio that the project promises, from one run on this machine."""

from tests.bench.heat import season_ratio
from tests.bench.ingest import ingest_ratio
from tests.bench.journal import append_ratio


def main() -> None:
    """Measure and print."""
    print(f"journal append / bare executemany: {append_ratio():.2f} (goal at least 0.6)")
    print(f"heat of a season / numpy.trapezoid: {season_ratio():.2f} times as long (goal at most 2)")
    ratio, per_second = ingest_ratio()
    print(f"ingest / a consumer that does nothing: {ratio:.2f} (goal at least 0.7); {per_second:,.0f} messages/s")


if __name__ == "__main__":
    main()
