"""A house with a drift."""

from tests.dashboards.conftest import drifted, house

__all__ = ["drifted", "house"]
